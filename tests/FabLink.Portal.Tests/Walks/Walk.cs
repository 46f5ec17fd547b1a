using Dapper;
using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;
using Npgsql;

namespace FabLink.Portal.Tests.Walks;

/// <summary>
/// Three pieces of an order with a route and a sampling that chance chose, and people who do whatever comes to their minds. After each act the portal is held
/// against <see cref="PieceLog"/>: what may start, what has failed, and that every page says the same.
/// </summary>
public sealed class Walk
{
    private readonly Scene _scene;
    private readonly Random _random;
    private readonly List<string> _told = [];
    private readonly Dictionary<Guid, PieceLog> _logs = [];
    private readonly Dictionary<string, (HashSet<Guid> Pieces, int Accept)> _samples = [];
    private readonly Dictionary<string, int> _sampleFailed = [];
    private readonly List<(Guid Piece, Actor Actor, SubmitReport.Request Request, string Verdict)> _files = [];
    private List<AskedValue> _asked = [];
    private Guid _order;
    private Guid _touched;
    private int _act;

    private Walk(Scene scene, int seed)
    {
        _scene = scene;
        _random = new Random(seed);
        Say($"Seed {seed}");
    }

    public int Acts => _act;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Story => string.Join('\n', _told);

    private Actor[] People => [_scene.Mara, _scene.Ned, _scene.Ida, _scene.Tom, _scene.Wren];

    public static async Task<Walk> BeginAsync(Scene scene, int seed)
    {
        var walk = new Walk(scene, seed);
        await walk.IssueAsync();
        return walk;
    }

    private bool Chance(double probability) => _random.NextDouble() < probability;

    private T Any<T>(IReadOnlyList<T> of) => of[_random.Next(of.Count)];

    private void Say(string what) => _told.Add($"{_act,3} {what}");

    private Actor OneOf(Guid organisation) => People.First(one => one.OrganisationId == organisation);

    private async Task IssueAsync()
    {
        var (part, drawing, revision) = (Guid.CreateVersion7(), Guid.CreateVersion7(), Guid.CreateVersion7());
        string[] AnyStages(params string[] stages) => [.. stages.Where(_ => Chance(0.7)).DefaultIfEmpty(stages[0])];
        _asked =
        [
            new(Guid.CreateVersion7(), "critical", 1, AnyStages("tack", "as welded")),
            new(Guid.CreateVersion7(), "major", 2, AnyStages("tack", "before coat")),
            new(Guid.CreateVersion7(), "minor", 1, AnyStages("before coat", "tack", "receiving")),
            new(Guid.CreateVersion7(), "major", 1, AnyStages("after coat", "receiving")),
        ];
        const string Head = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, 'walker', now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, 'walker', now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @By)
            """;
        // Guarded, so that 120.45 with an uncertainty of 0.1 proves nothing.
        const string Row = """
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            values (@Id, @Saltmarsh, @revision, @balloon, 'length', '120 ±0.5', 'mm', 120, 119.5, 120.5, 'stated', @Class, @Stages, 'before coating', @Count, 'guarded')
            """;
        await using (var owner = await _scene.OwnerAsync())
        {
            await owner.ExecuteAsync(Head, new { part, drawing, revision, _scene.Saltmarsh, By = _scene.Mara.PersonId, number = $"W-{revision}" });
            foreach (var (one, place) in _asked.Select((one, place) => (one, place)))
                await owner.ExecuteAsync(Row, new { one.Id, _scene.Saltmarsh, revision, balloon = place + 1, one.Class, one.Stages, one.Count });
            await owner.ExecuteAsync("update revision set released_at = now(), released_by = @By where id = @revision", new { revision, By = _scene.Mara.PersonId });
        }
        PlannedStep Gated(PlannedStep step) => _random.Next(5) switch
        {
            0 or 1 when step.Stage is not null => step with { Gate = "hold", OpensBy = "report" },
            2 => step with { Gate = "hold", OpensBy = "person" },
            3 => step with { Gate = "witness", NoticeHours = 24 },
            _ => step,
        };
        Guid? coater = Chance(0.7) ? _scene.Teal : null;
        PlannedStep[] route =
        [
            new("cut", null, null),
            Gated(new("fit and tack", null, "tack")),
            Gated(new("weld", Chance(0.3) ? _scene.Dunlin : null, "as welded")),
            Gated(new("inspect", Any<Guid?>([null, _scene.Saltmarsh, _scene.Dunlin]), "before coat")),
            new("ship", null, null),
            Gated(new("powder coat", coater, "after coat")),
            Gated(new("receive", _scene.Saltmarsh, "receiving")),
        ];
        _order = await _scene.DraftAsync(_scene.Line(revision, 3, route: [.. route.Where(step => Chance(step.Kind == "ship" ? 0.4 : 0.9)).DefaultIfEmpty(route[0])]));
        if (Chance(0.6))
        {
            // Of three pieces no published plan spares one; two of them will do here.
            const string Sampling = """
                insert into line_sampling (line_id, work_order_id, class, method, plan, lot, sample_size, accept, seed, chosen_at, chosen_by)
                select id, work_order_id, @characteristicClass, 'zero acceptance', 'walk', 3, @size, 0, @seed, now(), @By from work_order_line where work_order_id = @_order
                """;
            await using var owner = await _scene.OwnerAsync();
            foreach (var characteristicClass in ChooseSampling.Classes.Where(_ => Chance(0.7)))
                await owner.ExecuteAsync(Sampling, new { _order, characteristicClass, size = _random.Next(1, 3), seed = (long)_random.Next(), By = _scene.Mara.PersonId });
        }
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ned, new(_order, 1), Cancellation));
        Assert.IsType<OrderAnswer.Given>(await new AcceptWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, new(_order), Cancellation));
        foreach (var one in _asked)
            Say($"asked: {one.Class} ×{one.Count} at {string.Join(", ", one.Stages)}");
        await FindPiecesAsync();
    }

    /// <summary>Those made at issue, and later those made anew.</summary>
    private async Task FindPiecesAsync()
    {
        const string Steps = """
            select s.piece_id as piece, p.serial, s.id, s.ordinal, r.kind, s.organisation_id as organisation, r.stage, r.gate, r.opens_by as opens
            from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id where s.work_order_id = @_order order by p.serial, s.ordinal
            """;
        const string Sampled = """
            select s.class, s.accept, m.piece_id as piece from line_sampling s join line_sample_piece m on m.line_id = s.line_id and m.class = s.class where s.work_order_id = @_order
            """;
        await using var owner = await _scene.OwnerAsync();
        foreach (var sample in (await owner.QueryAsync<(string Class, int Accept, Guid Piece)>(Sampled, new { _order })).GroupBy(row => (row.Class, row.Accept)))
            _samples[sample.Key.Class] = ([.. sample.Select(row => row.Piece)], sample.Key.Accept);
        foreach (var piece in (await owner.QueryAsync<(Guid Piece, string Serial, Guid Id, int Ordinal, string Kind, Guid Organisation, string? Stage, string Gate, string? Opens)>(Steps, new { _order }))
            .GroupBy(row => (row.Piece, row.Serial)).Where(piece => !_logs.ContainsKey(piece.Key.Piece)))
        {
            var id = piece.Key.Piece;
            _logs[id] = new PieceLog(
                [.. piece.Select(row => new WalkStep(row.Id, row.Ordinal, row.Kind, row.Organisation, row.Stage, row.Gate, row.Opens))],
                _asked,
                (characteristicClass, at) => _samples.TryGetValue(characteristicClass, out var sample) && !sample.Pieces.Contains(id)
                    && !(_sampleFailed.TryGetValue(characteristicClass, out var failed) && failed <= at));
            Say($"{Name(id)}{string.Concat(_samples.Where(sample => sample.Value.Pieces.Contains(id)).Select(sample => $", in the {sample.Key} sample"))}: "
                + string.Join(" → ", piece.Select(row => $"{row.Kind} ({row.Stage ?? "-"}, {OneOf(row.Organisation).OrganisationName.Split(' ')[0]}{(row.Gate == "none" ? "" : $", {row.Gate} {row.Opens}")})")));
        }
    }

    private string Name(Guid piece) => $"#{_logs.Keys.TakeWhile(id => id != piece).Count() + 1}";

    public async Task ActAsync()
    {
        _act++;
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var alive = _logs.Where(each => !each.Value.Over).Select(each => each.Key).ToList();
        if (alive.Count == 0)
            return;
        var piece = Any(alive);
        var log = _logs[piece];
        _touched = piece;
        try
        {
            await ActAsync(piece, log);
        }
        catch (Exception fault) when (fault is not Xunit.Sdk.IAssertionException)
        {
            throw new InvalidOperationException($"{fault.Message}\n{Story}", fault);
        }
    }

    private async Task ActAsync(Guid piece, PieceLog log)
    {
        switch (_random.Next(100))
        {
            case < 38:
                await MoveAsync(piece, Chance(0.9) ? log.Next ?? log.Steps[^1] : Any(log.Steps));
                break;
            case < 64:
                await MeasureAsync(piece, StageOf(log));
                break;
            case < 68:
                await MeasureAgainAsync(piece);
                break;
            case < 80:
                await DecideAsync(piece);
                break;
            case < 90:
                await ReleaseAsync(piece, Any([.. log.Steps.Where(step => step.Gate != "none").DefaultIfEmpty(log.Steps[0])]));
                break;
            case < 94:
                await ConcedeAsync(piece, StageOf(log));
                break;
            case < 97:
                await InviteAsync(piece, Any(log.Steps));
                break;
            case < 99:
                await ShipAsync(piece);
                break;
            default:
                await WaitAsync();
                break;
        }
        if (Chance(0.002))
            await CancelAsync();
    }

    /// <summary>Mostly where it was worked on last.</summary>
    private string StageOf(PieceLog log) =>
        Chance(0.75) && log.Steps.LastOrDefault(step => step.Stage is not null && log.IsStarted(step.Id)) is { Stage: { } stage } ? stage
        : log.FailedStages() is [_, ..] failed && Chance(0.5) ? Any(failed)
        : Any(["tack", "as welded", "before coat", "after coat", "receiving"]);

    private async Task MoveAsync(Guid piece, WalkStep step)
    {
        var actor = Chance(0.8) ? OneOf(step.Organisation) : _scene.Ned;
        if (!_logs[piece].IsStarted(step.Id))
        {
            var why = _logs[piece].WhyNot(step);
            var outcome = await _scene.StartAsync(actor, step.Id);
            Say($"{actor.Name} starts {step.Kind} of {Name(piece)}: {Word(outcome)}");
            if (outcome is StartStep.Outcome.Started)
                _logs[piece].Start(_act, step.Id);
            Must(why is null == outcome is StartStep.Outcome.Started, $"{step.Kind} of {Name(piece)} {(why is null ? "may start" : $"must not start: {why}")}");
        }
        else
        {
            var outcome = await _scene.FinishAsync(actor, step.Id);
            Say($"{actor.Name} finishes {step.Kind} of {Name(piece)}: {Word(outcome)}");
            if (outcome is FinishStep.Outcome.Finished)
                _logs[piece].Finish(_act, step.Id);
        }
    }

    /// <summary>Some of what is asked, or all of it; most of it good.</summary>
    private async Task MeasureAsync(Guid piece, string stage, bool everythingGood = false)
    {
        var log = _logs[piece];
        var share = everythingGood || Chance(0.6) ? 1 : 0.5;
        var good = everythingGood ? 1 : Any([1, 0.8, 0.5]);
        var values = new Dictionary<(Guid, int), Found>();
        foreach (var one in _asked.Where(one => one.Stages.Contains(stage)))
        {
            for (var instance = 1; instance <= one.Count; instance++)
            {
                if (Chance(share))
                    values[(one.Id, instance)] = Chance(good) ? Found.Good : Chance(0.5) ? Found.Bad : Found.Unproven;
            }
        }
        var doer = log.Steps.LastOrDefault(step => step.Stage == stage)?.Organisation ?? _scene.HolmLane;
        var actor = everythingGood || Chance(0.8) ? OneOf(doer) : Chance(0.5) ? _scene.Mara : Any(People);
        Say($"{actor.Name} measures {Name(piece)} at {stage} ({string.Join(" ", values.Select(value => $"{_asked.FindIndex(one => one.Id == value.Key.Item1) + 1}.{value.Key.Item2} {value.Value}"))})");
        var file = Chance(0.5) ? new SubmitReport.File("walk.csv", Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(Guid.NewGuid().ToByteArray())), 10) : null;
        var request = new SubmitReport.Request(
            stage, [new SubmitReport.PieceValues(piece, [.. values.Select(value => Value(value.Key, value.Value))])], file, file is null ? Guid.CreateVersion7() : null);
        var outcome = await SubmitAsync(actor, request);
        _told[^1] += $": {Word(outcome)}";
        if (outcome is not SubmitReport.Outcome.Accepted accepted)
            return;
        _files.Add((piece, actor, request, accepted.Reports[0].Verdict));
        log.Report(_act, stage, values);
        foreach (var (characteristicClass, sample) in _samples)
        {
            if (!_sampleFailed.ContainsKey(characteristicClass) && sample.Pieces.Count(one => _logs[one].EverFailed(characteristicClass)) > sample.Accept)
            {
                _sampleFailed[characteristicClass] = _act;
                Say($"  the {characteristicClass} sample failed");
            }
        }
    }

    private Task<SubmitReport.Outcome> SubmitAsync(Actor actor, SubmitReport.Request request) =>
        new SubmitReport.Handler(_scene.Database, _scene.Clock).HandleAsync(actor, request, Cancellation);

    /// <summary>The very file or page once more: nothing is written twice, and what conformed opens what has begun since.</summary>
    private async Task MeasureAgainAsync(Guid piece)
    {
        if (_files.Where(each => each.Piece == piece).ToList() is not [_, ..] files)
            return;
        var (_, actor, request, verdict) = Any(files);
        var outcome = await SubmitAsync(actor, request);
        Say($"{actor.Name} submits the report of {Name(piece)} at {request.Stage} again ({verdict}): {Word(outcome)}");
        Must(outcome is SubmitReport.Outcome.Accepted { Reports: [{ Before: true }] }, "the same again is no second report");
        if (verdict == "conforms")
            _logs[piece].ReportAgain(_act, request.Stage);
    }

    private async Task ShipAsync(Guid piece)
    {
        var log = _logs[piece];
        var step = log.Steps.FirstOrDefault(each => each.Kind == "ship");
        var outcome = await new ShipPieces.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, new(_order, [piece], null), Cancellation);
        Say($"{_scene.Ida.Name} ships {Name(piece)}: {Word(outcome)}");
        if (outcome is not ShipPieces.Outcome.Shipped)
            return;
        Must(!log.Over && log.FailedStages().Count == 0, "what failed or is over does not leave");
        Must(log.Steps.All(each => log.IsStarted(each.Id) == log.IsFinished(each.Id) && (!log.IsStarted(each.Id) || log.IsOpen(each))), "what is in work or held does not leave");
        if (step is not null && !log.IsStarted(step.Id))
        {
            Must(log.WhyNot(step) is null, $"ship must not start: {log.WhyNot(step)}");
            log.Start(_act, step.Id);
            log.Finish(_act, step.Id);
        }
    }

    private async Task CancelAsync()
    {
        var outcome = await new CloseWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ned, new(_order, "Not needed any more."), Cancellation);
        Say($"Ned cancels the order: {Word(outcome)}");
        foreach (var log in _logs.Values)
            log.End();
    }

    private static SubmitReport.Value Value((Guid Id, int Instance) of, Found found)
    {
        var number = found switch { Found.Good => 120m, Found.Bad => 121m, _ => 120.45m };
        return new(of.Id, of.Instance, number, "mm", $"{number}", 0.1m, "", "");
    }

    private async Task DecideAsync(Guid piece, string? disposition = null)
    {
        await using var owner = await _scene.OwnerAsync();
        var open = (await owner.QueryAsync<(Guid Id, int RowVersion, string Stage)>(
            "select id, row_version, stage from nonconformance where piece_id = @piece and closed_at is null order by opened_at", new { piece })).AsList();
        if (open.Count == 0)
            return;
        var (id, version, stage) = Any(open);
        var decided = disposition ?? _random.Next(20) switch { < 9 => "rework", < 12 => "repair", < 17 => "use as is", < 19 => "remake", _ => "scrap" };
        var outcome = await new DisposeNonconformance.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Mara, new(id, version, decided, "So it is.", null), Cancellation);
        Say($"Mara decides on {Name(piece)} at {stage}: {decided}: {Word(outcome)}");
        Must(outcome is DisposeNonconformance.Outcome.Disposed, "a decision on what is open is taken");
        if (decided is "rework" or "repair")
            _logs[piece].Decide(_act, stage);
        if (decided == "use as is")
            _logs[piece].Concede(_act, stage);
        if (decided is "remake" or "scrap")
            _logs[piece].End();
        if (decided == "remake")
            await FindPiecesAsync();
    }

    private async Task<OpenGate.Outcome> ReleaseAsync(Guid piece, WalkStep step)
    {
        var outcome = await new OpenGate.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Mara, new([step.Id], "Looked at it."), Cancellation);
        Say($"Mara releases {Name(piece)} after {step.Kind}: {Word(outcome)}");
        if (outcome is OpenGate.Outcome.Opened)
        {
            Must(_logs[piece].IsStarted(step.Id), "nobody releases what has not begun");
            Must(step.OpensBy != "report", "only a report opens it");
            Must(_logs[piece].FailedStages().Count == 0, "nobody releases what failed");
            _logs[piece].Release(_act, step.Id);
        }
        return outcome;
    }

    private async Task ConcedeAsync(Guid piece, string stage)
    {
        if (await _scene.AskAsync<Guid?>("select id from report where piece_id = @piece and stage = @stage order by submitted_at desc, id desc limit 1", new { piece, stage }) is not { } report)
            return;
        var verdict = _logs[piece].Verdict(stage, int.MaxValue);
        var outcome = await new GrantConcession.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Mara, new(report, "It will do.", null), Cancellation);
        Say($"Mara concedes {Name(piece)} at {stage}: {Word(outcome)}");
        if (outcome is not GrantConcession.Outcome.Granted)
            return;
        Must(verdict is "not proven" or "incomplete", $"what {verdict} needs no concession of this kind");
        _logs[piece].Concede(_act, stage);
    }

    private async Task InviteAsync(Guid piece, WalkStep step)
    {
        var actor = OneOf(step.Organisation);
        var outcome = await new AskWitness.Handler(_scene.Database, _scene.Clock).HandleAsync(actor, new([step.Id]), Cancellation);
        Say($"{actor.Name} invites a witness to {step.Kind} of {Name(piece)}: {Word(outcome)}");
        if (outcome is AskWitness.Outcome.Asked)
            _logs[piece].Invite(_act, step.Id);
    }

    /// <summary>More than a day, and the sweep that lets go on what nobody came to see.</summary>
    private async Task WaitAsync()
    {
        _scene.Clock.Advance(TimeSpan.FromHours(25));
        await new SweepWitness.Handler(_scene.Sources, _scene.Clock).RunAsync(Cancellation);
        await using var owner = await _scene.OwnerAsync();
        foreach (var (piece, step) in await owner.QueryAsync<(Guid, Guid)>(
            "select piece_id, id from piece_step where work_order_id = @_order and opened_how = 'notice time over' and opened_at = @now", new { _order, now = _scene.Clock.GetUtcNow() }))
        {
            Say($"a day passes, the notice time of {Name(piece)} is over");
            _logs[piece].Pass(_act, step);
        }
    }

    /// <summary>The portal against the log, and its pages against each other: of the piece that somebody just did something with, or of all.</summary>
    public async Task CheckAsync(bool all = false)
    {
        var board = await new ShowBoard.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Mara, new ShowBoard.Filter(Done: true), Cancellation);
        foreach (var (piece, log) in _logs.Where(each => all || each.Key == _touched))
            await CheckAsync(piece, log, board.Pieces.Single(row => row.Row.Id == piece));
    }

    private async Task CheckAsync(Guid piece, PieceLog log, ShowBoard.PieceRow row)
    {
        var name = Name(piece);
        var open = await _scene.AskAsync<string>("select coalesce(string_agg(distinct stage, ', ' order by stage), '') from nonconformance where piece_id = @piece and closed_at is null", new { piece });
        if (!log.Over)
            Must(open == string.Join(", ", log.FailedStages()), $"{name} failed at “{string.Join(", ", log.FailedStages())}”, and nonconformances are open at “{open}”");
        var pages = new List<(Actor Actor, ShowPiece.Page Page)>();
        foreach (var actor in People)
        {
            if (await new ShowPiece.Handler(_scene.Database).HandleAsync(actor, piece, Cancellation) is { } page)
                pages.Add((actor, page));
        }
        var route = pages[0].Page.Piece.Route;

        foreach (var step in log.Steps.Where(step => !log.IsStarted(step.Id)))
        {
            var why = log.WhyNot(step);
            var (refused, message) = await TryAsync(step);
            Must(why is null == refused is null, $"{step.Kind} of {name} {(why is null ? "may start" : $"must not start ({why})")}, and the database says {refused ?? "yes"} {message}");
            foreach (var (actor, page) in pages.Where(each => each.Page.Next.Move == Move.Start && each.Page.Next.Step!.Id == step.Id))
                Must(why is null, $"the page of {actor.Name} offers to start {step.Kind} of {name}: {why}");
            if (why is null)
            {
                Must(pages.Any(each => each.Actor.OrganisationId == step.Organisation && each.Page.Next.Move == Move.Start), $"nobody at {OneOf(step.Organisation).OrganisationName} is offered to start {step.Kind} of {name}");
                if (step.Organisation != _scene.Saltmarsh)
                {
                    var list = await new ListSteps.Handler(_scene.Database, _scene.Clock).HandleAsync(OneOf(step.Organisation), Cancellation);
                    Must(list.Now.Any(group => group.Deed == "start" && group.Items.Any(item => item.StepId == step.Id)), $"the list of {OneOf(step.Organisation).OrganisationName} does not have {step.Kind} of {name}");
                }
            }
        }

        // Whoever takes over from somebody else was told, and whoever is to measure finds something to measure.
        foreach (var (before, step) in log.Steps.Zip(log.Steps.Skip(1)).Where(pair => pair.First.Organisation != pair.Second.Organisation && log.WhyNot(pair.Second) is null))
        {
            var told = await _scene.AskAsync<long>(
                "select count(distinct id) from notice where piece_id = @piece and organisation_id = @Organisation and kind = 'your turn' and subject like '%: ready for ' || @Kind", new { piece, step.Organisation, step.Kind });
            Must(told == People.Count(person => person.OrganisationId == step.Organisation), $"{OneOf(step.Organisation).OrganisationName} was told {told} times that {name} is ready for {step.Kind} after {before.Kind}");
        }
        foreach (var (actor, page) in pages.Where(each => each.Page.Next.Move == Move.Measure))
        {
            var entry = await new MeasurePage.Handler(_scene.Database).PieceAsync(actor, piece, page.Next.Stage!, Cancellation);
            Must(entry is { Characteristics.Count: > 0 }, $"{actor.Name} is to measure {name} at {page.Next.Stage} and finds nothing to measure");
            if (log.Steps.Any(step => step.Organisation == actor.OrganisationId && step.Stage == page.Next.Stage && log.IsStarted(step.Id)))
            {
                var list = await new ListSteps.Handler(_scene.Database, _scene.Clock).HandleAsync(actor, Cancellation);
                Must(list.ToMeasure.Any(row => row.PieceId == piece && row.Stage == page.Next.Stage), $"the list of {actor.OrganisationName} does not have {name} to be measured at {page.Next.Stage}");
            }
        }

        var turn = pages[0].Page.Piece.WhoseTurn;
        Must((turn?.Id, route.Stop, route.OpenNonconformance, route.Decided, route.FailedStage, route.Ended, string.Join(", ", route.NotShown))
             == (row.WhoseTurn?.Id, row.Route.Stop, row.Route.OpenNonconformance, row.Route.Decided, row.Route.FailedStage, row.Route.Ended, string.Join(", ", row.Route.NotShown)),
            $"the board shows {name} otherwise than its page");
        Must(route.Steps.Select(step => step.State).SequenceEqual(row.Route.Steps.Select(step => step.State)), $"the board shows the steps of {name} otherwise than its page");
        foreach (var (actor, page) in pages)
            Must(page.Next.Headline.Length > 0 && page.Next.ToDo.Length > 0, $"{actor.Name} is told nothing of {name}");
        if (log.TurnOf(_scene.Saltmarsh, _scene.HolmLane) is { } expected)
            Must(turn?.Id == expected, $"it is the turn of {OneOf(expected).OrganisationName} with {name}, and the portal says {turn?.Name ?? "nobody's"}");
        if (turn is not null)
        {
            Must(pages.Any(each => each.Actor.OrganisationId == turn.Id && IsOwn(each.Page.Next)),
                $"it is the turn of {turn.Name} with {name}, and nobody there has anything to press: {string.Join("; ", pages.Where(each => each.Actor.OrganisationId == turn.Id).Select(each => $"{each.Actor.Name}: {each.Page.Next.Headline}. {each.Page.Next.ToDo}"))}");
        }
        else
            Must(log.Over || log.Next is null && open!.Length == 0, $"{name} is not through, and it is nobody's turn");
    }

    /// <summary>Starts it past the handlers, and takes that back.</summary>
    private async Task<(string? Code, string? Message)> TryAsync(WalkStep step)
    {
        var actor = OneOf(step.Organisation);
        try
        {
            await using var work = await _scene.Database.BeginAsync(actor, Cancellation);
            await work.ExecuteAsync("update piece_step set started_at = now(), started_by = @PersonId where id = @Id", new { step.Id, actor.PersonId });
            return (null, null);
        }
        catch (PostgresException held)
        {
            return (held.SqlState, held.MessageText);
        }
    }

    /// <summary>Whoever is offered something does it, and all that is measured is good: every piece comes through.</summary>
    public async Task EndAsync()
    {
        for (var left = 0; left < 200; left++)
        {
            _act++;
            _scene.Clock.Advance(TimeSpan.FromMinutes(1));
            if (await OfferedAsync() is not { } offered)
            {
                foreach (var (piece, log) in _logs)
                    Must(log.Over || log.Next is null && log.FailedStages().Count == 0, $"{Name(piece)} is not through, and nobody is offered anything");
                return;
            }
            var (id, actor, page) = offered;
            var (next, log2) = (page.Next, _logs[id]);
            _touched = id;
            Say($"{actor.Name} is offered {next.Move} on {Name(id)}: {next.Headline}");
            switch (next.Move)
            {
                case Move.Start or Move.Finish:
                    await MoveAsync(id, log2.Steps.First(step => step.Id == next.Step!.Id));
                    break;
                case Move.Measure:
                    await MeasureAsync(id, next.Stage!, everythingGood: true);
                    break;
                case Move.InviteWitness:
                    await InviteAsync(id, log2.Steps.First(step => step.Id == next.Step!.Id));
                    break;
                case Move.Release:
                    if (await ReleaseAsync(id, log2.Steps.First(step => step.Id == next.Step!.Id)) is OpenGate.Outcome.NotProven unproven)
                        await ConcedeAsync(id, unproven.Stage);
                    break;
                case Move.SeeNonconformance:
                    await DecideAsync(id, "rework");
                    break;
                default:
                    Must(false, $"{next.Move} is not of this walk");
                    break;
            }
            await CheckAsync();
        }
        Must(false, "what is offered leads nowhere");
    }

    private async Task<(Guid Piece, Actor Actor, ShowPiece.Page Page)?> OfferedAsync()
    {
        foreach (var piece in _logs.Keys)
        {
            foreach (var actor in People)
            {
                if (await new ShowPiece.Handler(_scene.Database).HandleAsync(actor, piece, Cancellation) is { } page && IsOwn(page.Next))
                    return (piece, actor, page);
            }
        }
        return null;
    }

    /// <summary>Something to press that is not for somebody else; what an engineer decides is.</summary>
    private static bool IsOwn(NextMove next) => next is { Move: not Move.None, OnBehalfOf: null } or { Move: Move.SeeNonconformance };

    private static string Word(object outcome) => outcome switch
    {
        StartStep.Outcome.Started or FinishStep.Outcome.Finished or SubmitReport.Outcome.Accepted or OpenGate.Outcome.Opened => "yes",
        _ => $"{outcome}",
    };

    private void Must(bool holds, string what) => Assert.True(holds, $"{what}\n{Story}");
}
