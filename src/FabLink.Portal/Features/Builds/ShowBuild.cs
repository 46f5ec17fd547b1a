using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Builds;

/// <summary>One build as a sheet: what was surveyed on the machine, and what must go together.</summary>
public static class ShowBuild
{
    public sealed record Head(Guid Id, string Number, string Name);

    public sealed record SurveyRow(Guid Id, string Name, long Points, DateTimeOffset TakenAt, string? TakenBy);

    public sealed record JointLine(
        Guid Id,
        string Name,
        string PartNumber,
        string Pattern,
        int Place,
        string? MateNumber,
        string? MatePattern,
        int? MatePlace,
        string? Survey,
        string? Form,
        string? Verdict,
        decimal? MarginMm,
        decimal WantedMarginMm,
        decimal? Probability,
        int? Measured,
        int? Holes,
        long Holds)
    {
        public string Mate => Survey is null ? $"{MateNumber}{Of(MatePlace)} {MatePattern}" : $"survey {Survey}";

        public string Part => $"{PartNumber}{Of(Place)} {Pattern}";

        private static string Of(int? place) => place is null or 1 ? "" : $" no {place}";
    }

    public sealed record Page(Actor Actor, Head Head, IReadOnlyList<SurveyRow> Surveys, IReadOnlyList<JointLine> Joints)
    {
        public bool MayWrite => Actor.May(Deed.WriteJoints, Relation.Own);
    }

    public sealed class Handler(Database database)
    {
        private const string SelectHead = "select id, number, name from build where id = @build";

        private const string Surveys = """
            select s.id, s.name, (select count(*) from survey_point p where p.survey_id = s.id) as points, s.taken_at, p.name as taken_by
            from survey s left join person p on p.id = s.taken_by where s.build_id = @build order by s.name
            """;

        private const string Joints = """
            select j.id, j.name, part.number as part_number, j.pattern, j.place, mate.number as mate_number, j.mate_pattern, j.mate_place, s.name as survey,
                   c.form, c.verdict, c.margin_mm, j.wanted_margin_mm, c.probability, c.measured, c.holes,
                   (select count(*) from joint_hold h where h.joint_id = j.id and h.lifted_at is null) as holds
            from joint j join part on part.id = j.part_id left join part mate on mate.id = j.mate_part_id left join survey s on s.id = j.mate_survey_id
                 left join lateral (select * from joint_check c where c.joint_id = j.id order by c.ordinal desc limit 1) c on true
            where j.build_id = @build and j.removed_at is null
            order by c.verdict is distinct from 'does not bolt up', c.margin_mm nulls first, j.name
            """;

        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Page?> HandleAsync(Actor actor, Guid build, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<Head>(SelectHead, new { build }) is { } head
                ? new Page(actor, head, await work.RowsAsync<SurveyRow>(Surveys, new { build }), await work.RowsAsync<JointLine>(Joints, new { build }))
                : null;
        }
    }
}
