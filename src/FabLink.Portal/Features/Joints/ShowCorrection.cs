using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Joints;

/// <summary>
/// One page for the shop: what to change on a piece so that its dimensions conform and its joints bolt up, while it can still be changed cheaply.
/// </summary>
public static class ShowCorrection
{
    /// <summary>A joint of the piece as the shop may see it: how it stands, and how it stood when it was first found wanting.</summary>
    public sealed record JointPart(Guid JointId, CorrectionBody Now, DateTimeOffset NowAt, CorrectionBody? Before, DateTimeOffset? BeforeAt);

    /// <summary>A dimension that leaves its limits or is not proven inside, and what brings it back.</summary>
    /// <param name="Value">As measured, with its unit.</param>
    /// <param name="ToMiddle">What brings it to the middle of its limits.</param>
    /// <param name="Least">The least change that conforms; null when that is not a number.</param>
    /// <param name="AtReach">What the change is at the far end of what is turned; null without a reach.</param>
    public sealed record DimensionPart(string Balloon, string Name, string Requirement, string Value, string Verdict, string ToMiddle, string? Least, string? AtReach, string? Before)
    {
        /// <summary>It gives the place or the size of a hole that bolts to something.</summary>
        public bool OfHole { get; init; }

        /// <summary>Where it was measured.</summary>
        public string Stage { get; init; } = "";

        /// <summary>Nothing but its uncertainty is missing.</summary>
        public bool IsToBeStated { get; init; }

        /// <summary>The joints stand with it as it is; bringing it back may be what breaks them.</summary>
        public DimensionPart AsItStands() => this with { ToMiddle = "ask the engineer", Least = null, AtReach = "Its joint bolts up with it as it stands; bringing it back may break that. The engineer decides." };
    }

    public sealed record Page(
        Measuring.PieceRow Piece,
        string? Stage,
        DateTimeOffset? MeasuredAt,
        IReadOnlyList<DimensionPart> Dimensions,
        IReadOnlyList<JointPart> Joints)
    {
        /// <summary>What ended the piece, behind "it is"; null while it goes on.</summary>
        public string? Over { get; init; }

        /// <summary>What was never measured of what is asked there.</summary>
        public IReadOnlyList<string> Missing { get; init; } = [];

        /// <summary>Who let the piece go on as it is after its newest report.</summary>
        public IReadOnlyList<LetGoRow> LetGo { get; init; } = [];

        public bool NothingToChange => Dimensions.All(one => one.Verdict == "conforms") && Joints.All(joint => joint.Now is { Verdict: "bolts up", Tight: false });

        /// <summary>It bolts up and conforms; only the margin is less than was wanted.</summary>
        public bool OnlyTight => !NothingToChange && Dimensions.All(one => one.Verdict == "conforms") && Joints.All(joint => joint.Now.Verdict == "bolts up");

        /// <summary>Everything that is wrong with it is wrong with what it bolts to.</summary>
        public bool IsTheMates => Dimensions.All(one => one.Verdict == "conforms") && Joints.Any(joint => joint.Now.IsTheMates)
            && Joints.All(joint => joint.Now.IsTheMates || joint.Now is { Verdict: "bolts up", Tight: false });

        public bool MayMeasure { get; init; }
    }

    public sealed record LetGoRow(string? By, DateTimeOffset At, string? Reason);

    private sealed record CorrectionRow(Guid JointId, DateTimeOffset MadeAt, string Verdict, decimal? MarginMm, string Body);

    private sealed record StageRow(string Stage, DateTimeOffset SubmittedAt, bool Open);

    public sealed class Handler(Database database)
    {
        private const string Corrections = """
            select joint_id, made_at, verdict, round(margin_mm, 3) as margin_mm, body::text as body from correction where piece_id = @id order by joint_id, made_at desc, id desc
            """;

        // Where it was measured last, and wherever a nonconformance of it is open; those first.
        private const string MeasuredAt = """
            select stage, submitted_at, open from (
                select distinct on (r.stage) r.stage, r.submitted_at, r.id, exists (
                    select 1 from nonconformance n where n.piece_id = r.piece_id and n.stage = r.stage and n.closed_at is null) as open
                from report r where r.piece_id = @id order by r.stage, r.submitted_at desc, r.id desc) newest
            where open or (submitted_at, id) = (select submitted_at, id from report where piece_id = @id order by submitted_at desc, id desc limit 1)
            order by open desc, submitted_at desc, id desc
            """;

        private const string LetGo = """
            select p.name as by, let.at, let.reason from (
                select h.lifted_by as person, h.lifted_at as at, h.reason from joint_hold h where h.piece_id = @id and h.lifted_by is not null
                union all
                select c.granted_by, c.granted_at, c.reason from concession_piece x join concession c on c.id = x.concession_id where x.piece_id = @id and c.stage = @stage) let
                left join person p on p.id = let.person
            where let.at >= @since order by let.at
            """;

        private const string Located = $"""
            select {LocatedRow.Columns} from characteristic where revision_id = @revision and locates <> ''
            """;

        private const string Earlier = """
            select v.characteristic_id, v.instance, v.value from report r join measured_value v on v.report_id = r.id
            where r.piece_id = @id and r.stage = @stage and v.verdict <> 'conforms' and v.value is not null order by r.submitted_at, r.id
            """;

        private sealed record EarlierRow(Guid CharacteristicId, short Instance, decimal Value);

        /// <returns>Null when the piece is not there for this actor.</returns>
        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await Measuring.PieceAsync(work, id) is not { } piece || !actor.May(Deed.SeePieces, piece.RelationOf(actor)))
                return null;
            var measured = await work.RowsAsync<StageRow>(MeasuredAt, new { id });
            var newest = measured.Count > 0 ? measured[0] : null;
            var joints = (await work.RowsAsync<CorrectionRow>(Corrections, new { id })).GroupBy(row => row.JointId).Select(Part).ToList();
            var dimensions = new List<DimensionPart>();
            var missing = new List<string>();
            foreach (var at in measured)
            {
                var (some, lacking) = await DimensionsAsync(work, piece, at.Stage);
                dimensions.AddRange(some);
                missing.AddRange(lacking);
            }

            if (joints.Count > 0 && joints.TrueForAll(joint => joint.Now is { Verdict: "bolts up", Tight: false }))
                dimensions = [.. dimensions.Select(one => one is { OfHole: true, Verdict: not "conforms", IsToBeStated: false } ? one.AsItStands() : one)];
            return new Page(piece, newest?.Stage, newest?.SubmittedAt, dimensions, joints)
            {
                Over = await PieceRoutes.EndedAsync(work, id),
                Missing = missing,
                MayMeasure = newest is not null && actor.May(Deed.SubmitReport, piece.RelationOf(actor)) && await Measuring.NotGivenAsync(work, [piece], newest.Stage) is null,
                LetGo = newest is null ? [] : await work.RowsAsync<LetGoRow>(LetGo, new { id, newest.Stage, since = newest.SubmittedAt }),
            };
        }

        private static JointPart Part(IGrouping<Guid, CorrectionRow> rows)
        {
            // Before: how it stood just before it became what it is now, looks that found the same margin passed over.
            var now = rows.First();
            var earlier = rows.Skip(1).FirstOrDefault(row => (row.Verdict, row.MarginMm) != (now.Verdict, now.MarginMm));
            return new JointPart(
                rows.Key,
                JointJson.Read<CorrectionBody>(now.Body),
                now.MadeAt,
                earlier is null ? null : JointJson.Read<CorrectionBody>(earlier.Body),
                earlier?.MadeAt);
        }

        private static async Task<(IEnumerable<DimensionPart> Dimensions, IReadOnlyList<string> Missing)> DimensionsAsync(Work work, Measuring.PieceRow piece, string stage)
        {
            var asked = await Measuring.CharacteristicsAsync(work, [piece.RevisionId], stage);
            var standing = (await StageJudging.StandingAsync(work, [piece.Id], stage))[piece.Id].ToList();
            var judged = new StageJudging.Asked(asked).Judge(standing, (await Excused.OfAsync(work, [piece.Id]))[piece.Id]);
            var byBalloon = asked.ToDictionary(row => $"{row.Balloon}");
            var turns = (await work.RowsAsync<LocatedRow>(Located, new { revision = piece.RevisionId }))
                .Select(row => (row.Id, Turn: TurnOf(row))).Where(pair => pair.Turn is not null).ToDictionary(pair => pair.Id, pair => pair.Turn!);
            var earlier = (await work.RowsAsync<EarlierRow>(Earlier, new { id = piece.Id, stage })).ToLookup(row => (row.CharacteristicId, (int)row.Instance), row => row.Value);
            var dimensions = judged.Values
                .Where(value => value.Judgement.Verdict != Verdict.Conforms || earlier[(byBalloon[value.Characteristic.Balloon].Id, value.Instance)].Any())
                .Select(value => Dimension(value, byBalloon[value.Characteristic.Balloon], standing, turns, earlier))
                .OfType<DimensionPart>().Select(part => part with { Stage = stage });
            return (dimensions, judged.Missing);
        }

        private static Locates? TurnOf(LocatedRow row) => Read(row.Locates, row.LengthUnit) is { Role: LocatedRole.Turn } turn ? turn : null;

        /// <summary>The size of what a fastener goes through, hole or slot; a stud or a thread is another matter.</summary>
        private static bool IsHole(Characteristic row) => Read(row.Locates) is { Role: LocatedRole.Diameter or LocatedRole.Length, Kind: not ("stud" or "tapped") };

        private static Locates? Read(string locates, string unit = "mm")
        {
            try
            {
                return locates.Length == 0 ? null : Locates.Parse(locates, unit);
            }
            catch (InputError)
            {
                return null;
            }
        }

        private static DimensionPart? Dimension(
            JudgedValue value,
            Characteristic row,
            List<StageJudging.StandingRow> standing,
            Dictionary<Guid, Locates> turns,
            ILookup<(Guid, int), decimal> earlier)
        {
            if (!row.IsMeasured)
            {
                return value.Judgement.Verdict == Verdict.Conforms ? null : new DimensionPart(
                    value.Name, row.Name, row.Requirement, row.Kind == "text" ? "no" : "no go", Stages.Word(value.Judgement.Verdict), row.Kind == "text" ? "do what it asks" : "until the gauge goes", null, null, null);
            }

            if (standing.FirstOrDefault(one => one.CharacteristicId == row.Id && one.Instance == value.Instance) is not { Value: { } measured, ExpandedUncertainty: var u })
                return null;
            var requirement = value.Characteristic.Requirement;
            var guard = row.Rule == "guarded" ? u ?? 0 : 0;
            var middle = row is { LowerLimit: { } lower, UpperLimit: { } upper } ? (lower + upper) / 2 : row.Nominal ?? row.UpperLimit ?? row.LowerLimit ?? measured;
            var least = measured > row.UpperLimit - guard ? row.UpperLimit - guard - measured : measured < row.LowerLimit + guard ? row.LowerLimit + guard - measured : null;
            var conforms = value.Judgement.Verdict == Verdict.Conforms;
            var before = earlier[(row.Id, value.Instance)].Where(old => old != measured).Select(requirement.Show).LastOrDefault();
            if (conforms && before is null)
                return null;
            var unit = row.UnitOf is Unit.Inch or Unit.Mil ? "in" : "mm";
            string? atReach = null;
            if (!conforms && turns.TryGetValue(row.Id, out var turn))
            {
                var degrees = (double)((middle - measured) / 3600);
                atReach = $"Turn {turn.Detail} by {Signed(requirement.Show(Math.Abs(middle - measured)), middle - measured)}"
                    + (turn.Reach is { } reach ? $": {JointWords.Length(Math.Abs(Reach.OffsetTangent(degrees, reach)), unit)} {unit} at the far end, {JointWords.Length(reach, unit)} {unit} away." : ".");
            }

            if (value.Judgement.MissingUncertainty && least is null)
            {
                return new DimensionPart(
                    value.Name, row.Name, row.Requirement, requirement.Show(measured), Stages.Word(value.Judgement.Verdict), "state its uncertainty", null,
                    "It lies inside its limits; how well it was measured is not said. Name the instrument or its ±.", before)
                { IsToBeStated = true };
            }

            // A hole that is too large is not made smaller with a file.
            if (!conforms && measured > middle && IsHole(row))
            {
                var (what, why) = measured > row.UpperLimit
                    ? ("ask the engineer", "Too large already: it cannot be made smaller by cutting. Do not weld it up without being told.")
                    : ("measure again", "Near its upper limit: a finer instrument may prove it. It cannot be made smaller by cutting.");
                return new DimensionPart(value.Name, row.Name, row.Requirement, requirement.Show(measured), Stages.Word(value.Judgement.Verdict), what, null, why, before);
            }

            return new DimensionPart(
                value.Name,
                row.Name,
                row.Requirement,
                requirement.Show(measured),
                Stages.Word(value.Judgement.Verdict),
                conforms ? "nothing" : Signed(requirement.Show(Math.Abs(middle - measured)), middle - measured),
                conforms || least is not { } change ? null : Signed(requirement.Show(Math.Abs(change)), change),
                atReach,
                before)
            {
                OfHole = Read(row.Locates) is { Role: not LocatedRole.Turn },
            };
        }

        private static string Signed(string size, decimal change) => change < 0 ? $"−{size}" : $"+{size}";
    }
}
