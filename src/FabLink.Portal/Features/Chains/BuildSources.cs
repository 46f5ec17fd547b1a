using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Chains;

/// <summary>
/// Everything a link of a build can point to, and how it is written: <c>RH-130 1</c> (balloon 1 of the first RH-130 of the build),
/// <c>RH-140 (2) 12.3</c> (instance 3 of balloon 12 of the second), <c>carrier rails: 1 to 6 y</c> (surveyed), <c>620 ±1</c> (a number);
/// behind an equals sign what the model says of a surveyed one.
/// </summary>
public sealed class BuildSources
{
    private const string Characteristics = """
        with placed as (select * from pieces_in_place(@build)),
        newest as (
            select distinct on (r.part_id) r.part_id, r.id as revision_id
            from revision r
            where r.part_id in (select v.part_id from work_order_line l join revision v on v.id = l.revision_id where l.build_id = @build)
                  or r.part_id in (select id from part order by created_at desc limit 100)
            order by r.part_id, r.released_at is null, length(r.letter) desc, r.letter desc),
        seat as (
            select part_id, place, revision_id, serial from placed
            union all
            select n.part_id, 1, n.revision_id, null from newest n where not exists (select 1 from placed p where p.part_id = n.part_id))
        select s.part_id, t.number as part_number, s.place, s.serial, c.balloon, c.count, c.kind, c.name, c.requirement, c.unit,
               c.lower_limit is null or c.upper_limit is null as one_limit
        from seat s join part t on t.id = s.part_id join characteristic c on c.revision_id = s.revision_id
        where c.kind not in ('attribute', 'text', 'film')
        order by t.number, s.place, c.balloon
        """;

    private const string Points = """
        select s.id as survey_id, s.name as survey, p.name as point, p.z_mm is not null as has_z
        from survey s join survey_point p on p.survey_id = s.id where s.build_id = @build order by s.name, p.ordinal
        """;

    public sealed record CharacteristicRow(
        Guid PartId, string PartNumber, int Place, string? Serial, int Balloon, int Count, string Kind, string Name, string Requirement, string Unit, bool OneLimit)
    {
        public bool Angle => Units.TryParse(Unit, out var unit) && Units.IsAngle(unit);
    }

    public sealed record PointRow(Guid SurveyId, string Survey, string Point, bool HasZ);

    private readonly IReadOnlyList<CharacteristicRow> _characteristics;
    private readonly IReadOnlyList<PointRow> _points;

    private BuildSources(IReadOnlyList<CharacteristicRow> characteristics, IReadOnlyList<PointRow> points) => (_characteristics, _points) = (characteristics, points);

    public static async Task<BuildSources> OfAsync(Work work, Guid build) =>
        new(await work.RowsAsync<CharacteristicRow>(Characteristics, new { build }), await work.RowsAsync<PointRow>(Points, new { build }));

    public bool Any => _characteristics.Count + _points.Count > 0;

    /// <summary>Offered while somebody types: how it is written, and what it is.</summary>
    /// <param name="chain">For a chain: surveyed points too, and nothing that has only one limit.</param>
    public IEnumerable<(string Text, string What)> Offers(bool chain) =>
        _characteristics.Where(row => !chain || !row.OneLimit).Select(row => (Written(row.PartNumber, row.Place, row.Balloon, 1, row.Count), $"{row.Name} {row.Requirement}{(row.Serial is null ? "" : $", {row.Serial}")}".Trim()))
            .Concat(chain ? _points.Select(row => ($"{row.Survey}: {row.Point} x", "surveyed")) : []);

    /// <summary>As a person writes it; what is not there any more is written all the same.</summary>
    public string Text(LinkSource source) => source switch
    {
        LinkSource.Characteristic of => Written(
            _characteristics.FirstOrDefault(row => row.PartId == of.PartId)?.PartNumber ?? "?",
            of.Place,
            of.Balloon,
            of.Instance,
            _characteristics.FirstOrDefault(row => (row.PartId, row.Place, row.Balloon) == (of.PartId, of.Place, of.Balloon))?.Count ?? 1),
        LinkSource.Survey of => $"{_points.FirstOrDefault(row => row.SurveyId == of.SurveyId)?.Survey ?? "?"}: {of.Point}{(of.OtherPoint is null ? "" : $" to {of.OtherPoint}")} {of.Axis}"
            + (of.Model is null ? "" : $" = {Size(of.Model)}"),
        LinkSource.Number of => Size(of.Size),
        _ => throw new InvalidOperationException($"{source} is no source."),
    };

    /// <param name="text">As typed.</param>
    /// <param name="why">What is wrong with it, when it cannot be understood.</param>
    public LinkSource? Read(string text, out string? why)
    {
        text = text.Trim();
        why = null;
        if (OfPart(text) is { } part)
            return ReadCharacteristic(text[part.Length..].Trim(), part, out why);
        if (_points.Select(row => row.Survey).Distinct().Where(name => text.StartsWith(name + ":", StringComparison.OrdinalIgnoreCase)).MaxBy(name => name.Length) is { } survey)
            return ReadSurvey(text[(survey.Length + 1)..].Trim(), survey, out why);
        if (text.Length > 0 && (char.IsAsciiDigit(text[0]) || text[0] is '+' or '-' or '−' or '.' or ','))
            return ReadSize(text, out why) is { } size ? new LinkSource.Number(size) : null;
        why = $"“{text}” is neither a part of this build with its balloon (RH-130 1), nor a survey (rails: 1 to 6 y), nor a number (620 ±1).";
        return null;
    }

    /// <summary>The characteristic that a source points to; null when it is another kind of source or is not there any more.</summary>
    public CharacteristicRow? Find(LinkSource? source) => source is LinkSource.Characteristic of
        ? _characteristics.FirstOrDefault(row => (row.PartId, row.Place, row.Balloon) == (of.PartId, of.Place, of.Balloon) && of.Instance <= row.Count)
        : null;

    // The longest number that the text begins with: RH-13 and RH-130 may both be there.
    private string? OfPart(string text) => _characteristics.Select(row => row.PartNumber).Distinct()
        .Where(number => text.StartsWith(number, StringComparison.OrdinalIgnoreCase) && (text.Length == number.Length || text[number.Length] is ' ' or '('))
        .MaxBy(number => number.Length);

    private LinkSource.Characteristic? ReadCharacteristic(string rest, string part, out string? why)
    {
        var rows = _characteristics.Where(row => row.PartNumber == part).ToList();
        var place = 1;
        if (rest.StartsWith('(') && rest.IndexOf(')', StringComparison.Ordinal) is var end and > 0)
        {
            if (!int.TryParse(rest.AsSpan(1, end - 1), out place) || rows.All(row => row.Place != place))
            {
                why = $"This build has {rows.Max(row => row.Place)} of {part}; “{rest[..(end + 1)]}” is none of them.";
                return null;
            }

            rest = rest[(end + 1)..].Trim();
        }

        rest = rest.StartsWith("balloon", StringComparison.OrdinalIgnoreCase) ? rest[7..].Trim() : rest;
        var numbers = rest.Split('.');
        if (numbers.Length > 2 || !int.TryParse(numbers[0], out var balloon) || (numbers.Length == 2 && !int.TryParse(numbers[1], out _)))
        {
            why = rest.Length == 0 ? $"Say which balloon of {part}, such as {part} 1." : $"“{rest}” is no balloon; write {part} 1, or {part} 12.3 for the third of balloon 12.";
            return null;
        }

        var instance = numbers.Length == 2 ? int.Parse(numbers[1]) : 1;
        if (rows.FirstOrDefault(row => row.Place == place && row.Balloon == balloon) is not { } found)
        {
            why = $"{part} has no balloon {balloon} with a size.";
            return null;
        }

        why = instance < 1 || instance > found.Count ? $"Balloon {balloon} of {part} has {found.Count}; there is no {balloon}.{instance}." : null;
        return why is null ? new LinkSource.Characteristic(found.PartId, place, balloon, instance) : null;
    }

    private LinkSource.Survey? ReadSurvey(string rest, string survey, out string? why)
    {
        var (where, model) = rest.Split('=', 2) is [var before, var behind] ? (before.Trim(), behind.Trim()) : (rest, null);
        Toleranced? size = null;
        if (model is not null && (size = ReadSize(model, out why)) is null)
            return null;
        var cut = where.LastIndexOf(' ');
        var axis = cut < 0 ? "" : where[(cut + 1)..].ToLowerInvariant();
        if (axis is not ("x" or "y" or "z" or "distance"))
        {
            why = $"Say what of it is meant: x, y, z or distance at the end, such as {survey}: 1 to 6 y.";
            return null;
        }

        var names = where[..cut].Split(" to ", 2, StringSplitOptions.TrimEntries);
        var points = names.Select(name => _points.FirstOrDefault(row => row.Survey == survey && string.Equals(row.Point, name, StringComparison.OrdinalIgnoreCase))).ToArray();
        why = Array.FindIndex(points, point => point is null) is var missing and >= 0 ? $"Survey {survey} has no point {names[missing]}."
            : axis == "distance" && points.Length == 1 ? $"A distance is between two points, such as {survey}: 1 to 6 distance."
            : axis == "z" && points.Any(point => !point!.HasZ) ? $"Survey {survey} has no z there."
            : points.Length == 2 && points[0] == points[1] ? "Both points are the same."
            : null;
        return why is null ? new LinkSource.Survey(points[0]!.SurveyId, points[0]!.Point, points.Length == 2 ? points[1]!.Point : null, axis, size) : null;
    }

    private static Toleranced? ReadSize(string text, out string? why)
    {
        why = null;
        if (NumberText.TryParse(text, out var exact))
            return new Toleranced(exact, 0, 0);
        if (!Requirement.TryParse(text, Unit.Millimetre, null, out var requirement, out var error))
        {
            why = error!.Message;
            return null;
        }

        if (requirement is { IsMeasured: true, Limits: { Lower: { } lower, Upper: { } upper } } && !Units.IsAngle(requirement.Unit))
        {
            var nominal = requirement.Nominal ?? (lower + upper) / 2;
            return new Toleranced(nominal, lower - nominal, upper - nominal);
        }

        why = "A number needs both limits in mm, such as 620 ±1, 620 +0.5/0 or 619.5-620.5.";
        return null;
    }

    private static string Written(string part, int place, int balloon, int instance, int count) =>
        $"{part}{(place == 1 ? "" : $" ({place})")} {balloon}{(count == 1 ? "" : $".{instance}")}";

    private static string Size(Toleranced size) =>
        size is { Lower: 0, Upper: 0 } ? Plain(size.Nominal)
        : size.Upper == -size.Lower ? $"{Plain(size.Nominal)} ±{Plain(size.Upper)}"
        : $"{Plain(size.Nominal)} {Signed(size.Upper)}/{Signed(size.Lower)}";

    private static string Plain(decimal value) => value.ToString("0.############");

    private static string Signed(decimal value) => value == 0 ? "0" : value.ToString("+0.############;-0.############");
}
