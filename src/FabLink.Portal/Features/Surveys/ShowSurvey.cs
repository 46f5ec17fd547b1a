using FabLink.Engineering;
using FabLink.Engineering.Geometry;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Surveys;

/// <summary>A survey beside the holes that a drawing has for them: best fit, what is left at each hole, and where the mating holes should stand.</summary>
public static class ShowSurvey
{
    public sealed record Head(
        Guid Id, Guid BuildId, string Build, string Name, string Instrument, string Note, string FileName, string Sha256, DateTimeOffset TakenAt, string? TakenBy);

    public sealed record PointRow(string Name, decimal XMm, decimal YMm, decimal? ZMm, decimal? DiameterMm, decimal? SlotLengthMm, decimal? SlotDegrees, decimal? UncertaintyMm, string Note);

    /// <summary>One hole: where the drawing has it, where the machine has it in the part's axes, and the difference.</summary>
    /// <param name="Residual">Machine less drawing after the best fit, in the part's axes, mm.</param>
    public sealed record Compared(PatternHole Hole, PointRow Point, Vector2D Drawn, Vector2D Found, Vector2D Residual);

    /// <param name="Fit">The best fit of the drawing onto the survey; null when there are too few holes.</param>
    /// <param name="Why">Why nothing is compared; empty otherwise.</param>
    public sealed record Comparison(JointChoices.PatternChoice Pattern, IReadOnlyList<Compared> Holes, RigidFit2? Fit, string Why, IReadOnlyList<string> Cautions)
    {
        /// <summary>The hole that stands farthest off; null without a fit.</summary>
        public Compared? Worst => Fit is null ? null : Holes.MaxBy(hole => hole.Residual.Length);

        /// <summary>
        /// A hole is farther from its place than halfway to its neighbour: then it is more likely another part, or the names are swapped,
        /// than that the machine is so.
        /// </summary>
        public bool IsOfAnotherPart => Worst is { } worst && worst.Residual.Length > ClosestDrawn() / 2;

        private double ClosestDrawn() =>
            (from i in Enumerable.Range(0, Holes.Count) from j in Enumerable.Range(0, i) select (Holes[i].Drawn - Holes[j].Drawn).Length)
            .Where(apart => apart > 0).DefaultIfEmpty(double.MaxValue).Min();
    }

    public sealed record Page(Actor Actor, Head Head, IReadOnlyList<PointRow> Points, IReadOnlyList<JointChoices.PatternChoice> Patterns, Comparison? Comparison, bool Cut)
    {
        public bool MayWrite => Actor.May(Deed.WriteJoints, Relation.Own);
    }

    public sealed class Handler(Database database)
    {
        private const string SelectHead = """
            select s.id, s.build_id, b.number as build, s.name, s.instrument, s.note, s.file_name, s.sha256, s.taken_at, p.name as taken_by
            from survey s join build b on b.id = s.build_id left join person p on p.id = s.taken_by where s.id = @id
            """;

        private const string Points = """
            select name, x_mm, y_mm, z_mm, diameter_mm, slot_length_mm, slot_degrees, uncertainty_mm, note from survey_point where survey_id = @id order by ordinal
            """;

        // The pattern of a joint that stands on this survey is compared first.
        private const string Used = "select part_id::text || '/' || pattern from joint where mate_survey_id = @id and removed_at is null order by created_at limit 1";

        private const string Cut = """
            select exists (select 1 from pieces_in_place(@build) p join piece_step s on s.piece_id = p.piece_id where p.part_id = @part and s.started_at is not null)
            """;

        /// <param name="pattern">As <see cref="JointChoices.PatternChoice.Value"/> has it; null chooses.</param>
        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Page?> HandleAsync(Actor actor, Guid id, string? pattern, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(SelectHead, new { id }) is not { } head)
                return null;
            var points = await work.RowsAsync<PointRow>(Points, new { id });
            var patterns = (await JointChoices.OfAsync(work, head.BuildId)).Patterns;
            pattern ??= await work.ValueAsync<string>(Used, new { id });
            var comparison = patterns.FirstOrDefault(one => one.Value == pattern) is { } chosen ? Compare(chosen, points) : Likeliest(patterns, points);
            return new Page(
                actor, head, points, patterns, comparison,
                comparison is not null && await work.ValueAsync<bool>(Cut, new { build = head.BuildId, part = comparison.Pattern.PartId }));
        }
    }

    /// <summary>The one with just these holes; else of a part that this build gets, with the most holes of the same names; and of those the one that fits best.</summary>
    private static Comparison? Likeliest(IReadOnlyList<JointChoices.PatternChoice> patterns, IReadOnlyList<PointRow> points)
    {
        var names = points.Select(point => point.Name).ToHashSet();
        return patterns.Where(one => one.Holes.Count > 1)
            .Select(one => Compare(one, points))
            .OrderByDescending(one => names.SetEquals(one.Pattern.Holes))
            .ThenBy(one => one.IsOfAnotherPart)
            .ThenByDescending(one => one.Pattern.InBuild)
            .ThenByDescending(one => one.Pattern.Holes.Count(names.Contains))
            .ThenBy(one => one.Fit?.RootMeanSquare ?? double.MaxValue)
            .FirstOrDefault();
    }

    /// <summary>Fits the drawn holes onto those found and tells where each mating hole should stand in the part's own axes.</summary>
    public static Comparison Compare(JointChoices.PatternChoice choice, IReadOnlyList<PointRow> points)
    {
        var drawn = choice.Drawn;
        var byName = points.ToDictionary(point => point.Name);
        var pairs = drawn.Holes.Where(hole => byName.ContainsKey(hole.Name) && hole.InPlane is { First: not null, Second: not null }).ToList();
        if (drawn.Problems.Count > 0)
            return new Comparison(choice, [], null, string.Join(" ", drawn.Problems.Take(6)), []);
        if (pairs.Count < 2)
            return new Comparison(choice, [], null, $"Fewer than two holes of {choice.Number} {choice.Pattern} have a point of the same name in this survey.", []);
        var nominal = pairs.Select(hole => new Vector2D(hole.InPlane.First!.Drawn, hole.InPlane.Second!.Drawn)).ToArray();
        var plane = SurveyPlane.Of(
            [.. pairs.Select(hole => byName[hole.Name]).Select(point => new SurveyPlane.Point(point.Name, point.XMm, point.YMm, point.ZMm, point.UncertaintyMm))], pairs.Select(hole => hole.Name).ToHashSet());
        if (plane.Why.Length > 0)
            return new Comparison(choice, [], null, plane.Why, []);
        var found = plane.Places;
        try
        {
            var fit = RigidFit.Match(nominal, [.. found]);
            // Back into the axes of the part: the fit undone.
            var (sin, cos) = Math.SinCos(-fit.Angle);
            Vector2D Back(Vector2D at)
            {
                var p = at - fit.ToCentre;
                return fit.FromCentre + new Vector2D((cos * p.X) - (sin * p.Y), (sin * p.X) + (cos * p.Y));
            }

            return new Comparison(
                choice,
                [.. pairs.Select((hole, i) => new Compared(hole, byName[hole.Name], nominal[i], Back(found[i]), Back(found[i]) - nominal[i]))],
                fit,
                "",
                [.. fit.Cautions, .. plane.Cautions]);
        }
        catch (InputError refusal)
        {
            return new Comparison(choice, [], null, refusal.Message, []);
        }
    }
}
