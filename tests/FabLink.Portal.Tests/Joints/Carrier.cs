using System.Text;
using Dapper;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Surveys;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;
using Microsoft.Extensions.Logging.Abstractions;

namespace FabLink.Portal.Tests.Joints;

/// <summary>
/// A plate with four M12 holes of Ø13.5 at the corners of 200 × 100, on two tacked pads, to be bolted to a carrier that was surveyed
/// or to a second plate of another shop's making. Every coordinate has ±0.8.
/// </summary>
public sealed class Carrier
{
    private static readonly (int X, int Y)[] _corners = [(0, 0), (0, 100), (200, 0), (200, 100)];
    private readonly Scene _scene;
    private readonly Dictionary<Guid, Guid[]> _characteristics = [];

    private Carrier(Scene scene) => _scene = scene;

    public Guid Build { get; } = Guid.CreateVersion7();

    public Guid Part { get; private set; }

    public Guid Piece { get; private set; }

    public Guid Order { get; private set; }

    public Guid Mate { get; private set; }

    public Guid MatePiece { get; private set; }

    public static async Task<Carrier> TackedAsync(Scene scene, bool withMate = false, string unit = "mm", string rule = "simple", string hole = "floating", bool basic = false)
    {
        var carrier = new Carrier(scene);
        await using (var owner = await scene.OwnerAsync())
            await owner.ExecuteAsync("insert into build values (@Build, @Saltmarsh, @number, 'carrier', now(), @By)", new { carrier.Build, scene.Saltmarsh, number = $"B {carrier.Build}", By = scene.Mara.PersonId });
        (carrier.Part, carrier.Order, carrier.Piece) = await carrier.MadeAsync(unit, rule, hole, basic);
        if (withMate)
            (carrier.Mate, _, carrier.MatePiece) = await carrier.MadeAsync(unit, rule, hole, basic);
        return carrier;
    }

    private async Task<(Guid Part, Guid Order, Guid Piece)> MadeAsync(string unit, string rule, string hole, bool basic)
    {
        var (part, drawing, revision) = (Guid.CreateVersion7(), Guid.CreateVersion7(), Guid.CreateVersion7());
        const string Head = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, 'plate', now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, 'plate', now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, unit, welded, general_tolerance, created_at, created_by)
            values (@revision, @Saltmarsh, @drawing, @part, 'A', @unit, true, 'ISO 13920-BF', now(), @By)
            """;
        const string Row = """
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule, locates)
            values (@id, @Saltmarsh, @revision, @balloon, @kind, @requirement, 'mm', @nominal, @nominal - @below, @nominal + @above, 'stated', 'major', '{tack}', 'before coating', @count, @rule, @locates)
            """;
        await using (var owner = await _scene.OwnerAsync())
        {
            await owner.ExecuteAsync(Head, new { part, drawing, revision, _scene.Saltmarsh, number = $"RH-{part}", unit, By = _scene.Mara.PersonId });
            var ids = new List<Guid>();
            async Task AddAsync(int balloon, string kind, string requirement, decimal nominal, decimal below, decimal above, int count, string locates)
            {
                ids.Add(Guid.CreateVersion7());
                await owner.ExecuteAsync(Row, new { id = ids[^1], _scene.Saltmarsh, revision, balloon, kind, requirement, nominal, below, above, count, rule, locates });
            }

            if (basic)
                await AddAsync(30, "position", "⌖ Ø1.6", 0, 0, 1.6m, 4, $"face/1-4 position, x {string.Join('+', _corners.Select(at => at.X))}, y {string.Join('+', _corners.Select(at => at.Y))}, masked");
            for (var i = 0; i < 4 && !basic; i++)
            {
                await AddAsync(i + 1, "length", $"{_corners[i].X} ±0.8", _corners[i].X, 0.8m, 0.8m, 1, $"face/{i + 1} x, on {(i < 2 ? "left" : "right")} pad");
                await AddAsync(i + 11, "length", $"{_corners[i].Y} ±0.8", _corners[i].Y, 0.8m, 0.8m, 1, $"face/{i + 1} y");
            }

            await AddAsync(20, "diameter", "Ø13.5 +0.3/0", 13.5m, 0, 0.3m, 4, $"face/1-4 diameter, M12, {hole}");
            await owner.ExecuteAsync("update revision set released_at = now(), released_by = @By where id = @revision", new { revision, By = _scene.Mara.PersonId });
            _characteristics[part] = [.. ids];
        }

        var order = await _scene.AcceptedAsync(_scene.Line(revision) with { BuildId = Build });
        await _scene.DoAsync(_scene.Ida, order, "cut");
        await _scene.DoAsync(_scene.Ida, order, "fit and tack");
        return (part, order, (await _scene.PiecesAsync(order))[0]);
    }

    /// <summary>Takes in a survey with the four holes moved in x.</summary>
    public Task<Guid> SurveyedAsync(params decimal[] dx)
    {
        var text = "hole,x,y,diameter,uncertainty\n" + string.Concat(_corners.Select((at, i) => FormattableString.Invariant($"{i + 1},{at.X + dx[i]},{at.Y},13.5,0.05\n")));
        return SurveyedWithAsync("arm", text);
    }

    public async Task<Guid> SurveyedWithAsync(string instrument, string text)
    {
        using var folder = new TemporaryFolder();
        var outcome = await new KeepSurvey.Handler(_scene.Database, new FileStore(folder.Path), _scene.Clock).HandleAsync(
            _scene.Mara, new KeepSurvey.Request(Build, "carrier", instrument, null), new MemoryStream(Encoding.UTF8.GetBytes(text)), "carrier.csv", TestContext.Current.CancellationToken);
        return Assert.IsType<KeepSurvey.Outcome.Kept>(outcome).Id;
    }

    public async Task<Guid> JointAsync(Guid? survey, decimal wanted = 0.1m)
    {
        var outcome = await new KeepJoint.Handler(_scene.Database, _scene.Clock).HandleAsync(
            _scene.Mara,
            new KeepJoint.Request(Build, null, 0, "plate to carrier", $"{Part}/face", 1, survey is null ? $"{Mate}/face" : $"survey/{survey}", 1, 0, 0, wanted, null),
            TestContext.Current.CancellationToken);
        return Assert.IsType<KeepJoint.Outcome.Kept>(outcome).Id;
    }

    /// <summary>All holes of a piece, moved in x; every one Ø13.5 unless said otherwise.</summary>
    public SubmitReport.Request Measured(Guid piece, decimal[] dx, decimal diameter = 13.5m)
    {
        var ids = _characteristics[piece == Piece ? Part : Mate];
        SubmitReport.Value Value(Guid id, decimal number, int instance = 1) => new(id, instance, number, "mm", $"{number}", 0.05m, "", "");
        List<SubmitReport.Value> values = [];
        for (var i = 0; i < 4; i++)
        {
            values.Add(Value(ids[2 * i], _corners[i].X + dx[i]));
            values.Add(Value(ids[(2 * i) + 1], _corners[i].Y));
            values.Add(Value(ids[8], diameter, i + 1));
        }

        return new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, values)], null, Guid.CreateVersion7());
    }

    public async Task<SubmitReport.Taken> SubmitAsync(SubmitReport.Request request)
    {
        var outcome = await new SubmitReport.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, request, TestContext.Current.CancellationToken);
        return Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports);
    }

    public RecheckBuild Job => new(_scene.Sources, _scene.Clock, NullLogger<RecheckBuild>.Instance);

    public async Task LookAsync()
    {
        await Job.RunDueAsync(TestContext.Current.CancellationToken);
        Assert.Equal(0, await _scene.AskAsync<long>("select count(*) from outbox where kind like 're-check%' and done_at is null"));
    }

    /// <summary>The newest check of the joint.</summary>
    public async Task<(string Form, string Verdict, decimal Margin)> StandsAsync(Guid joint)
    {
        await using var owner = await _scene.OwnerAsync();
        return await owner.QuerySingleAsync<(string, string, decimal)>("select form, verdict, coalesce(margin_mm, 0) from joint_check where joint_id = @joint order by ordinal desc limit 1", new { joint });
    }

    public async Task<JointFinding> FindingAsync(Guid joint) =>
        JointJson.Read<JointFinding>((await _scene.AskAsync<string>("select answer::text from joint_check where joint_id = @joint order by ordinal desc limit 1", new { joint }))!);

    public Task<long> NoticesAsync(Actor actor, string like) => _scene.AskAsync<long>(
        "select count(*) from notice where person_id = @PersonId and kind = 'joint' and subject like @like and work_order_id in (select work_order_id from piece where id = any(@pieces))",
        new { actor.PersonId, like, pieces = new[] { Piece, MatePiece } });

    /// <summary>Null when welding may start; else the code of the rule that refuses it.</summary>
    public async Task<string?> HeldAsync()
    {
        var weld = (await _scene.StepsAsync(Order, "weld"))[0];
        try
        {
            await using var work = await _scene.Database.BeginAsync(_scene.Ida, TestContext.Current.CancellationToken);
            await work.ExecuteAsync("update piece_step set started_at = @now, started_by = @PersonId where id = @weld", new { now = _scene.Clock.GetUtcNow(), weld, _scene.Ida.PersonId });
            return null;
        }
        catch (Npgsql.PostgresException held)
        {
            return held.SqlState;
        }
    }

    private sealed class TemporaryFolder : IDisposable
    {
        public string Path { get; } = Directory.CreateTempSubdirectory("fablink-survey-").FullName;

        public void Dispose() => Directory.Delete(Path, recursive: true);
    }
}
