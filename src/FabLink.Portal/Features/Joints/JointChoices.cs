using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Joints;

/// <summary>What a joint of a build can be made of: the hole patterns of the organisation's parts, and the surveys of the build.</summary>
public sealed record JointChoices(IReadOnlyList<JointChoices.PatternChoice> Patterns, IReadOnlyList<JointChoices.SurveyChoice> Surveys)
{
    /// <param name="InBuild">Some work order makes the part for this build.</param>
    public sealed record PatternChoice(Guid PartId, string Number, string PartName, HolePatternDrawn Drawn, bool InBuild)
    {
        public string Pattern => Drawn.Name;

        public IReadOnlyList<string> Holes { get; } = [.. Drawn.Holes.Select(hole => hole.Name)];

        /// <summary>As a form sends it.</summary>
        public string Value => $"{PartId}/{Pattern}";

        public string Label => $"{Number} {PartName}: {Pattern}, {Holes.Count} {(Holes.Count == 1 ? "hole" : "holes")}";
    }

    public sealed record SurveyChoice(Guid Id, string Name)
    {
        public string Value => $"survey/{Id}";
    }

    // The newest released revision of each part, else its draft.
    private const string Located = $"""
        with newest as (
            select distinct on (r.part_id) r.part_id, r.id from revision r order by r.part_id, r.released_at is null, length(r.letter) desc, r.letter desc)
        select {LocatedRow.Columns} from characteristic where locates <> '' and revision_id in (select id from newest)
        """;

    private const string Parts = """
        select distinct on (p.id) p.id as part_id, r.id as revision_id, p.number, p.name,
               exists (select 1 from work_order_line l join revision ordered on ordered.id = l.revision_id where l.build_id = @build and ordered.part_id = p.id) as in_build
        from part p join revision r on r.part_id = p.id where p.owner_id = @OrganisationId
        order by p.id, r.released_at is null, length(r.letter) desc, r.letter desc
        """;

    private const string SurveysOf = "select id, name from survey where build_id = @build order by name";

    private sealed record PartRow(Guid PartId, Guid RevisionId, string Number, string Name, bool InBuild);

    private const string Exists = "select exists (select 1 from build where id = @build)";

    /// <summary>The actor's organisation has this build.</summary>
    public static async Task<bool> IsBuildAsync(Work work, Guid build) => await work.ValueAsync<bool>(Exists, new { build });

    public static async Task<JointChoices> OfAsync(Work work, Guid build)
    {
        var located = (await work.RowsAsync<LocatedRow>(Located)).ToLookup(row => row.RevisionId);
        var parts = await work.RowsAsync<PartRow>(Parts, new { work.Actor.OrganisationId, build });
        return new JointChoices(
            [
                .. parts.OrderBy(part => part.Number, StringComparer.Ordinal).SelectMany(part => HolePatterns.Of(located[part.RevisionId]).Select(
                    pattern => new PatternChoice(part.PartId, part.Number, part.Name, pattern, part.InBuild))),
            ],
            await work.RowsAsync<SurveyChoice>(SurveysOf, new { build }));
    }
}
