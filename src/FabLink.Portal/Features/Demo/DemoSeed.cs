using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Questions;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Surveys;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Demo;

/// <summary>
/// Build RH-02 as it stands on the day the demo is started, told through the same handlers that the pages use: nobody's verdict is written here,
/// the portal finds each of them in the files of sample-data. All dates are relative to that day.
/// </summary>
public sealed class DemoSeed(IServiceProvider services, DemoPeople people, DateTimeOffset today, string sampleData, CancellationToken cancellation)
{
    private readonly DemoClock _clock = new() { Now = today };

    public async Task PlayAsync()
    {
        _clock.Now = today.AddDays(-12);
        var build = Wanted<CreateBuild.Outcome.Created>(await Of<CreateBuild.Handler>().HandleAsync(
            people.Engineer, new CreateBuild.Request("RH-02", "Reed harvester on a second-hand tracked carrier"), cancellation)).Id;
        await InstrumentsAsync();
        var cradle = await PartAsync("RH-110", "Engine cradle", null, welded: true, "ISO 13920-BF", "RH-110-A.pdf");
        var left = await PartAsync("RH-120", "Cutter arm, left", "left", welded: true, "ISO 13920-BF");
        var right = await PartAsync("RH-121", "Cutter arm, right", "right", welded: true, "ISO 13920-BF");
        var tube = await PartAsync("RH-130", "Cross tube", null, welded: true, "ISO 13920-BF");
        var bracket = await PartAsync("RH-140", "Pontoon bracket", null, welded: true, "ISO 13920-BF");
        var plate = await PartAsync("RH-150", "Hitch plate", null, welded: false, "ISO 2768-m", "RH-150-A.pdf", "RH-150-A.dxf", "RH-150-A.step");

        _clock.Now = today.AddDays(-9);
        var holmLane = await OrderAsync(
            people.HolmLane,
            "PO-2291",
            build,
            (cradle, 1, 9, Route("as welded")),
            (tube, 1, 10, Route("as welded")),
            (bracket, 4, 11, Route("before coat")));
        var dunlin = await OrderAsync(people.Dunlin, "PO-2292", build, (left, 1, 8, Route("as welded")), (right, 1, 8, Route("as welded")), (plate, 1, 12, PlateRoute()));

        _clock.Now = today.AddDays(-8);
        await AcceptAsync(people.HolmLane, holmLane, 8, 9, 13);
        await AcceptAsync(people.Dunlin, dunlin, 7, 7, 11);

        _clock.Now = today.AddDays(-6);
        await DoAsync(people.HolmLane, holmLane, "cut");
        await DoAsync(people.Dunlin, dunlin, "cut");

        _clock.Now = today.AddDays(-3);
        await DoAsync(people.HolmLane, holmLane, "fit and tack");
        await MeasureAsync(people.HolmLane, holmLane, "RH-130", "tack", "RH-130-001-tack.xlsx");
        await MeasureAsync(people.HolmLane, holmLane, "RH-140", "tack", "RH-140-tack.xlsx");
        await DoAsync(people.Dunlin, dunlin, "fit and tack");
        await MeasureAsync(people.Dunlin, dunlin, "RH-121", "tack", "RH-121-001-tack-inch.csv");

        _clock.Now = today.AddDays(-2);
        await DoAsync(people.HolmLane, holmLane, "weld", "RH-130", "RH-140");
        await MeasureAsync(people.HolmLane, holmLane, "RH-130", "as welded", "RH-130-001-as-welded-comma.csv");
        await MeasureAsync(people.HolmLane, holmLane, "RH-140", "before coat", "RH-140-before-coat-comma.csv");
        await DoAsync(people.Dunlin, dunlin, "machine", "RH-150");
        await MeasureAsync(people.Dunlin, dunlin, "RH-150", "as machined", "RH-150-001-as-machined-inch.csv");

        _clock.Now = today.AddHours(-6);
        await JointsAsync(build);
        await ChainAndPairAsync(build);

        _clock.Now = today.AddHours(-5);
        await MeasureAsync(people.Dunlin, dunlin, "RH-120", "tack", "RH-120-001-tack.csv");
        Wanted<AskQuestion.Outcome.Asked>(await Of<AskQuestion.Handler>().HandleAsync(
            people.HolmLane,
            new AskQuestion.Request(holmLane, cradle, null, "The rail pads of the cradle: may we tack them from below, so that the top face stays free of spatter?"),
            cancellation));
    }

    private async Task InstrumentsAsync()
    {
        foreach (var (actor, name, kind, unit, resolution, uncertainty, perMetre) in new (Actor, string, string, string, decimal, decimal, decimal)[]
                 {
                     (people.HolmLane, "tape 5 m", "tape", "mm", 0.5m, 0.3m, 0.2m),
                     (people.HolmLane, "caliper 150", "caliper", "mm", 0.01m, 0.03m, 0m),
                     (people.Dunlin, "digital level", "digital level", "deg", 0.05m, 0.1m, 0m),
                     (people.Dunlin, "caliper 300", "caliper", "mm", 0.01m, 0.03m, 0m),
                     (people.Engineer, "portable arm", "portable arm", "mm", 0.01m, 0.1m, 0m),
                 })
        {
            const string Insert = """
                insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty, uncertainty_per_metre, calibration_due)
                values (@Id, @OrganisationId, @name, @kind, @unit, @resolution, @uncertainty, @perMetre, @Due)
                """;
            await using var work = await services.GetRequiredService<Database>().BeginAsync(actor, cancellation);
            await work.ExecuteAsync(Insert, new
            {
                Id = Guid.CreateVersion7(_clock.Now),
                actor.OrganisationId,
                name,
                kind,
                unit,
                resolution,
                uncertainty,
                perMetre,
                Due = DateOnly.FromDateTime(today.AddDays(200).UtcDateTime),
            });
            await work.CommitAsync();
        }
    }

    /// <summary>The machine as found, and what of it bolts to the cradle and to the third bracket.</summary>
    private async Task JointsAsync(Guid build)
    {
        await SurveyAsync(build, "carrier rails", "Taken with the engine out, before the cradle was tacked up.", "RH-02-rails.csv");
        await SurveyAsync(build, "pontoon", "Third bracket from the bow.", "RH-02-pontoon.csv");
        JointChoices choices;
        await using (var work = await services.GetRequiredService<Database>().BeginAsync(people.Engineer, cancellation))
            choices = await JointChoices.OfAsync(work, build);
        string Pattern(string number) => choices.Patterns.Single(one => one.Number == number).Value;
        string Survey(string name) => choices.Surveys.Single(one => one.Name == name).Value;
        foreach (var joint in new[]
                 {
                     new KeepJoint.Request(build, null, 0, "cradle to rails", Pattern("RH-110"), 1, Survey("carrier rails"), null, 0, 0, 0.1m, null),
                     new KeepJoint.Request(build, null, 0, "third bracket to pontoon", Pattern("RH-140"), 3, Survey("pontoon"), null, 100, 0, 0.1m, null),
                 })
            Wanted<KeepJoint.Outcome.Kept>(await Of<KeepJoint.Handler>().HandleAsync(people.Engineer, joint, cancellation));
    }

    private async Task SurveyAsync(Guid build, string name, string note, string file)
    {
        await using var points = File.OpenRead(Path.Combine(sampleData, "surveys", file));
        Wanted<KeepSurvey.Outcome.Kept>(await Of<KeepSurvey.Handler>().HandleAsync(people.Engineer, new KeepSurvey.Request(build, name, "portable arm", note), points, file, cancellation));
    }

    /// <summary>What must close between the rails, and the pads of the arms that must agree.</summary>
    private async Task ChainAndPairAsync(Guid build)
    {
        Wanted<KeepOutcome.Kept>(await Of<KeepChain.Handler>().HandleAsync(
            people.Engineer,
            new KeepChain.Request(build, null, 0, "rail, cradle, cross tube, rail", "gap at the right rail", "0.5", "3.0", "99", "1",
            [
                new("faces of the rails", "1", "1205.75 ±0.3"),
                new("hole rows of the rails", "1", "carrier rails: 1 to 6 y = 620 ±0.5"),
                new("cradle, rail spacing", "-1", "RH-110 2"),
                new("cross tube, length", "-1", "RH-130 1"),
                new("cross tube, seat", "-1", "RH-130 4"),
            ]),
            cancellation));
        Wanted<KeepOutcome.Kept>(await Of<KeepPair.Handler>().HandleAsync(
            people.Engineer, new KeepPair.Request(build, null, 0, "pad angles of the arms", "RH-120 2", "RH-121 2", "0.5", "guarded"), cancellation));
    }

    /// <returns>The released revision A.</returns>
    private async Task<Guid> PartAsync(string number, string name, string? hand, bool welded, string generalTolerance, params string[] files)
    {
        var created = Wanted<CreatePart.Outcome.Created>(await Of<CreatePart.Handler>().HandleAsync(
            people.Engineer, new CreatePart.Request(number, name, hand, Welded: welded, GeneralTolerance: generalTolerance), cancellation));
        await using (var table = File.OpenRead(Path.Combine(sampleData, "drawings", $"{number}-A-characteristics.csv")))
        {
            var read = Wanted<ImportCharacteristics.Outcome.Read>(await Of<ImportCharacteristics.Handler>().HandleAsync(
                people.Engineer, new ImportCharacteristics.Request(created.RevisionId, table, $"{number}-A-characteristics.csv", null), cancellation));
            Wanted<EditCharacteristics.Outcome.Saved>(await Of<EditCharacteristics.Handler>().HandleAsync(
                people.Engineer, new EditCharacteristics.Request(created.RevisionId, read.Preview.Sheet.Head.RowVersion, read.Preview.Rows), cancellation));
        }
        foreach (var file in files)
        {
            await using var content = File.OpenRead(Path.Combine(sampleData, "drawings", file));
            Wanted<AddFiles.Outcome.Done>(await Of<AddFiles.Handler>().HandleAsync(
                people.Engineer, new AddFiles.Request(created.RevisionId, [new AddFiles.Incoming(file, content)]), cancellation));
        }
        var sheet = await Of<ShowRevision.Handler>().HandleAsync(people.Engineer, created.RevisionId, cancellation);
        Wanted<ReleaseRevision.Outcome.Released>(await Of<ReleaseRevision.Handler>().HandleAsync(
            people.Engineer, new ReleaseRevision.Request(created.RevisionId, sheet!.Head.RowVersion), cancellation));
        return created.RevisionId;
    }

    private IReadOnlyList<PlannedStep> Route(string secondStage) =>
    [
        new("cut", null, null, PlannedDays: 2),
        new("fit and tack", null, "tack", "hold", "report", PlannedDays: 2),
        new("weld", null, secondStage == "as welded" ? secondStage : null, secondStage == "as welded" ? "hold" : "none", secondStage == "as welded" ? "report" : null, PlannedDays: 2),
        new("inspect", null, secondStage == "before coat" ? secondStage : null, "hold", secondStage == "before coat" ? "report" : "person"),
        new("blast", people.Teal.OrganisationId, null),
        new("powder coat", people.Teal.OrganisationId, "after coat", PlannedDays: 5),
        new("receive", people.Engineer.OrganisationId, "receiving"),
    ];

    private IReadOnlyList<PlannedStep> PlateRoute() =>
    [
        new("cut", null, null, PlannedDays: 2),
        new("machine", null, "as machined", "hold", "report", PlannedDays: 2),
        new("blast", people.Teal.OrganisationId, null),
        new("powder coat", people.Teal.OrganisationId, "after coat", PlannedDays: 5),
        new("receive", people.Engineer.OrganisationId, "receiving"),
    ];

    private async Task<Guid> OrderAsync(Actor shop, string purchaseOrder, Guid build, params (Guid Revision, int Quantity, int Days, IReadOnlyList<PlannedStep> Route)[] lines)
    {
        var created = Wanted<CreateWorkOrder.Outcome.Created>(await Of<CreateWorkOrder.Handler>().HandleAsync(
            people.Buyer,
            new CreateWorkOrder.Request(
                shop.OrganisationId,
                purchaseOrder,
                "Steel is free-issued; keep heat numbers with the offcuts.",
                [.. lines.Select(line => new PlannedLine(line.Revision, build, line.Quantity, Day(line.Days), "", line.Route))]),
            cancellation));
        Wanted<IssueWorkOrder.Outcome.Issued>(await Of<IssueWorkOrder.Handler>().HandleAsync(
            people.Engineer, new IssueWorkOrder.Request(created.Id, 1), cancellation));
        return created.Id;
    }

    private async Task AcceptAsync(Actor shop, Guid order, params int[] promisedDays)
    {
        Wanted<OrderAnswer.Given>(await Of<AcceptWorkOrder.Handler>().HandleAsync(shop, new AcceptWorkOrder.Request(order), cancellation));
        var lines = await RowsAsync<Guid>(shop, "select id from work_order_line where work_order_id = @order order by ordinal", new { order });
        foreach (var (line, days) in lines.Zip(promisedDays))
        {
            Wanted<MakePromise.Outcome.Promised>(await Of<MakePromise.Handler>().HandleAsync(
                shop, new MakePromise.Request(order, line, Day(days), days > 11 ? "The saw is down until Monday." : ""), cancellation));
        }
    }

    /// <summary>Starts and finishes a step of all pieces of an order, or of some parts only; what has no such step is passed over.</summary>
    private async Task DoAsync(Actor shop, Guid order, string kind, params string[] parts)
    {
        const string Steps = """
            select s.id from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id join part t on t.id = p.part_id
            where s.work_order_id = @order and r.kind = @kind and (cardinality(@parts) = 0 or t.number = any(@parts)) order by p.serial
            """;
        var steps = await RowsAsync<Guid>(shop, Steps, new { order, kind, parts });
        Wanted<StartStep.Outcome.Started>(await Of<StartStep.Handler>().HandleAsync(shop, new StartStep.Request(steps), cancellation));
        _clock.Now += TimeSpan.FromHours(4);
        Wanted<FinishStep.Outcome.Finished>(await Of<FinishStep.Handler>().HandleAsync(shop, new FinishStep.Request(steps), cancellation));
        _clock.Now += TimeSpan.FromHours(1);
    }

    private async Task MeasureAsync(Actor shop, Guid order, string part, string stage, string file)
    {
        const string Line = """
            select l.id from work_order_line l join revision r on r.id = l.revision_id join part t on t.id = r.part_id where l.work_order_id = @order and t.number = @part
            """;
        var line = (await RowsAsync<Guid>(shop, Line, new { order, part }))[0];
        await using var content = File.OpenRead(Path.Combine(sampleData, "measurements", file));
        var kept = Wanted<UploadFile.Outcome.Kept>(await Of<UploadFile.Handler>().HandleAsync(
            shop, new UploadFile.Request(line, stage, file, OnBehalf: false), content, cancellation));
        var preview = await Of<PreviewFile.Handler>().HandleAsync(shop, kept.UploadId, cancellation);
        if (!preview!.Matched.MaySubmit)
            throw new InvalidOperationException($"{file}: {string.Join(" ", preview.Matched.Problems.Select(problem => problem.Message))}");
        Wanted<SubmitReport.Outcome.Accepted>(await Of<SubmitReport.Handler>().HandleAsync(shop, preview.ToRequest(""), cancellation));
        _clock.Now += TimeSpan.FromMinutes(20);
    }

    private async Task<IReadOnlyList<T>> RowsAsync<T>(Actor actor, string sql, object args)
    {
        await using var work = await services.GetRequiredService<Database>().BeginAsync(actor, cancellation);
        return await work.RowsAsync<T>(sql, args);
    }

    private DateOnly Day(int fromToday) => DateOnly.FromDateTime(today.UtcDateTime).AddDays(fromToday);

    /// <summary>A handler whose clock is the story's.</summary>
    private T Of<T>()
        where T : class =>
        typeof(T).GetConstructors()[0].GetParameters().Any(parameter => parameter.ParameterType == typeof(TimeProvider))
            ? ActivatorUtilities.CreateInstance<T>(services, _clock)
            : services.GetRequiredService<T>();

    private static T Wanted<T>(object outcome) =>
        outcome is T wanted ? wanted : throw new InvalidOperationException($"The demo wanted {typeof(T).Name} and got {outcome}.");

    private sealed class DemoClock : TimeProvider
    {
        public DateTimeOffset Now { get; set; }

        public override DateTimeOffset GetUtcNow() => Now;
    }
}
