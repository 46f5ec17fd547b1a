using Dapper;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Reports;

/// <summary>
/// A flange that is tacked and waits to be measured: a guarded critical length, a go/no-go, ten holes of one balloon and a minor length.
/// The hold after tack opens by a report.
/// </summary>
public sealed class Flange
{
    private readonly Scene _scene;

    private Flange(Scene scene) => _scene = scene;

    public Guid Piece { get; private set; }

    public Guid Order { get; private set; }

    public Guid Length { get; } = Guid.CreateVersion7();

    public Guid Hand { get; } = Guid.CreateVersion7();

    public Guid Holes { get; } = Guid.CreateVersion7();

    public Guid Minor { get; } = Guid.CreateVersion7();

    /// <summary>Of the ten holes, Ø0.75 at maximum material; only where it was asked for.</summary>
    public Guid Position { get; } = Guid.CreateVersion7();

    public static async Task<Flange> TackedAsync(Scene scene, bool withPosition = false, string opensBy = "report")
    {
        var flange = new Flange(scene);
        var revision = Guid.CreateVersion7();
        const string Sql = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, 'flange', now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, 'flange', now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @By);
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            values (@Length, @Saltmarsh, @revision, 1, 'length', '120 ±0.5', 'mm', 120, 119.5, 120.5, 'stated', 'critical', '{tack}', 'before coating', 1, 'guarded'),
                   (@Hand, @Saltmarsh, @revision, 2, 'attribute', 'left hand', 'none', null, null, null, 'stated', 'critical', '{tack}', 'before coating', 1, 'simple'),
                   (@Holes, @Saltmarsh, @revision, 12, 'diameter', '10× Ø13.5 ±0.2', 'mm', 13.5, 13.3, 13.7, 'stated', 'major', '{tack}', 'before coating', 10, 'simple'),
                   (@Minor, @Saltmarsh, @revision, 20, 'length', '96 ±0.8', 'mm', 96, 95.2, 96.8, 'stated', 'minor', '{tack}', 'before coating', 1, 'simple');
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, upper_limit, limits_from, class, stages, applies, count, rule, modifier, size_balloon, size_of)
            select @Position, @Saltmarsh, @revision, 13, 'position', '⌖ Ø0.75 Ⓜ (hole 12)', 'mm', 0.75, 'stated', 'major', '{tack}', 'before coating', 10, 'simple', 'M', 12, 'hole'
            where @withPosition;
            update revision set released_at = now(), released_by = @By where id = @revision
            """;
        await using (var owner = await scene.OwnerAsync())
        {
            await owner.ExecuteAsync(Sql, new
            {
                revision,
                flange.Length,
                flange.Hand,
                flange.Holes,
                flange.Minor,
                flange.Position,
                withPosition,
                scene.Saltmarsh,
                By = scene.Mara.PersonId,
                part = Guid.CreateVersion7(),
                drawing = Guid.CreateVersion7(),
                number = $"RH-{revision}",
            });
        }
        flange.Order = await scene.AcceptedAsync(scene.Line(revision, route:
            [.. PlannedStep.UsualRoute(scene.Saltmarsh, scene.Teal).Select(step => step.Stage == "tack" ? step with { OpensBy = opensBy } : step)]));
        flange.Piece = (await scene.PiecesAsync(flange.Order))[0];
        await scene.DoAsync(scene.Ida, flange.Order, "cut");
        await scene.DoAsync(scene.Ida, flange.Order, "fit and tack");
        return flange;
    }

    public static SubmitReport.Value Value(Guid characteristic, decimal? number, int instance = 1, decimal? uncertainty = null) =>
        new(characteristic, instance, number, "mm", $"{number}", uncertainty, "", "");

    /// <summary>Everything that is required, all of it good; what is given replaces the value of its place.</summary>
    public IReadOnlyList<SubmitReport.Value> Good(params SubmitReport.Value[] instead) =>
    [
        .. new[] { Value(Length, 120.1m, uncertainty: 0.05m), Value(Hand, 1), Value(Minor, 96) }.Concat(Enumerable.Range(1, 10).Select(n => Value(Holes, 13.5m, n)))
            .Where(value => !instead.Any(other => (other.CharacteristicId, other.Instance) == (value.CharacteristicId, value.Instance))),
        .. instead,
    ];

    public Task<SubmitReport.Outcome> SubmitAsync(Actor actor, IReadOnlyList<SubmitReport.Value> values, Guid? key = null, string? sha = null, string stage = "tack") =>
        new SubmitReport.Handler(_scene.Database, _scene.Clock).HandleAsync(
            actor,
            new SubmitReport.Request(stage, [new SubmitReport.PieceValues(Piece, values)], sha is null ? null : new SubmitReport.File("tack.csv", sha, 100), sha is null ? key ?? Guid.CreateVersion7() : null),
            TestContext.Current.CancellationToken);

    /// <summary>By the fabricator, a minute later than the last; must be accepted.</summary>
    public async Task<SubmitReport.Taken> MeasuredAsync(params IReadOnlyList<SubmitReport.Value> values)
    {
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        return Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(_scene.Ida, values)).Reports);
    }

    /// <summary>Null when the hold after tack is open; else the code of the rule that refuses welding.</summary>
    public async Task<string?> HeldAsync()
    {
        var weld = (await _scene.StepsAsync(Order, "weld"))[0];
        try
        {
            await using var work = await _scene.Database.BeginAsync(_scene.Ida, TestContext.Current.CancellationToken);
            await work.ExecuteAsync("update piece_step set started_at = now(), started_by = @PersonId where id = @weld", new { weld, _scene.Ida.PersonId });
            return null;
        }
        catch (Npgsql.PostgresException held)
        {
            return held.SqlState;
        }
    }

    public Task<T?> OfPieceAsync<T>(string sql) => _scene.AskAsync<T>(sql, new { Piece });

    public async Task<DisposeNonconformance.Outcome> DisposeAsync(Actor actor, string disposition, int rowVersion = 1, string? seen = null, string reason = "It carries nothing.") =>
        await new DisposeNonconformance.Handler(_scene.Database, _scene.Clock).HandleAsync(
            actor,
            new DisposeNonconformance.Request(await OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece order by opened_at desc limit 1"), rowVersion, disposition, reason, null, seen),
            TestContext.Current.CancellationToken);

    public Task<GrantConcession.Outcome> GrantAsync(Actor actor, Guid report, DateOnly? until = null) =>
        new GrantConcession.Handler(_scene.Database, _scene.Clock).HandleAsync(
            actor, new GrantConcession.Request(report, "The mating part was measured and fits.", until), TestContext.Current.CancellationToken);
}
