using Dapper;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Quantities;
using Npgsql;

namespace FabLink.Portal.Features.Chains;

/// <summary>A chain as it is kept.</summary>
public sealed record ChainRow(
    Guid Id,
    Guid OwnerId,
    Guid BuildId,
    string Name,
    string Closing,
    decimal? RequiredLowerMm,
    decimal? RequiredUpperMm,
    decimal RequiredYield,
    long Seed,
    int RowVersion)
{
    public const string Columns = "id, owner_id, build_id, name, closing, required_lower_mm, required_upper_mm, required_yield, seed, row_version";

    public RequiredLimits Required => new((double?)RequiredLowerMm, (double?)RequiredUpperMm);
}

/// <summary>A link as the record has it now, in mm or degrees.</summary>
/// <param name="From">Where it comes from, for people.</param>
/// <param name="Drawn">As the drawing or the model says.</param>
/// <param name="Now">Measured where it is measured.</param>
/// <param name="Problem">Why it cannot be computed; <paramref name="Drawn"/> is null then.</param>
/// <param name="Made">It is, or will be, of a piece; not surveyed, not a number.</param>
public sealed record LinkFact(string Name, string From, string Unit, ChainLink? Drawn, ChainLink? Now, string? Stage, Guid? PieceId, string? Serial, string? Problem, bool Made = false)
{
    /// <summary>mm, in or °: what its drawing is in, for people.</summary>
    public string DrawnIn { get; init; } = Unit;

    public bool Measured => Now?.Measured is not null;
}

/// <summary>Reads what chains are made of. Works on any connection that may see it: the actor's, or the job's.</summary>
public sealed class ChainReading(NpgsqlConnection connection, NpgsqlTransaction? transaction, CancellationToken cancellation)
{
    private const string Links = """
        select l.chain_id, l.name, l.sensitivity, l.distribution, l.source, t.number as part_number, l.place, l.balloon, l.instance, s.name as survey, l.point, l.other_point, l.axis,
               l.nominal_mm, l.lower_mm, l.upper_mm, i.piece_id, i.serial, c.unit, c.count, c.nominal, c.lower_limit, c.upper_limit,
               m.value, m.expanded_uncertainty, m.stage,
               a.x_mm as ax, a.y_mm as ay, a.z_mm as az, a.uncertainty_mm as au, b.x_mm as bx, b.y_mm as by, b.z_mm as bz, b.uncertainty_mm as bu
        from chain h join chain_link l on l.chain_id = h.id
             left join part t on t.id = l.part_id
             left join survey s on s.id = l.survey_id
             left join survey_point a on a.survey_id = l.survey_id and a.name = l.point
             left join survey_point b on b.survey_id = l.survey_id and b.name = l.other_point
             left join lateral (select p.piece_id, p.serial, p.revision_id from pieces_in_place(h.build_id) p where p.part_id = l.part_id and p.place = l.place) i on l.source = 'characteristic'
             left join lateral (
                 select c.id, c.unit, c.count, c.nominal, c.lower_limit, c.upper_limit
                 from revision r join characteristic c on c.revision_id = r.id and c.balloon = l.balloon
                 where r.part_id = l.part_id and (i.revision_id is null or r.id = i.revision_id)
                 order by r.released_at is null, length(r.letter) desc, r.letter desc limit 1) c on l.source = 'characteristic'
             left join lateral (
                 select v.value, v.expanded_uncertainty, r.stage
                 from report r join measured_value v on v.report_id = r.id
                 where r.piece_id = i.piece_id and v.characteristic_id = c.id and v.instance = l.instance and v.value is not null
                 order by r.submitted_at desc, r.id desc limit 1) m on true
        where h.id = any(@chains) order by l.chain_id, l.ordinal
        """;

    private sealed record LinkRow(
        Guid ChainId, string Name, decimal Sensitivity, string Distribution, string Source, string? PartNumber, int? Place, int? Balloon, int? Instance,
        string? Survey, string? Point, string? OtherPoint, string? Axis, decimal? NominalMm, decimal? LowerMm, decimal? UpperMm, Guid? PieceId, string? Serial,
        string? Unit, int? Count, decimal? Nominal, decimal? LowerLimit, decimal? UpperLimit, decimal? Value, decimal? ExpandedUncertainty, string? Stage,
        decimal? Ax, decimal? Ay, decimal? Az, decimal? Au, decimal? Bx, decimal? By, decimal? Bz, decimal? Bu);

    /// <returns>The links of each chain, in their order.</returns>
    public async Task<ILookup<Guid, LinkFact>> OfAsync(Guid[] chains) =>
        (await connection.QueryAsync<LinkRow>(new CommandDefinition(Links, new { chains }, transaction, cancellationToken: cancellation)))
            .ToLookup(row => row.ChainId, FactOf);

    private static LinkFact FactOf(LinkRow row) => row.Source switch
    {
        "characteristic" => OfCharacteristic(row),
        "survey" => OfSurvey(row),
        _ => Fact(row, "a number", "mm", Link(row, (double)row.NominalMm!, (double)row.LowerMm!, (double)row.UpperMm!), null, null),
    };

    private static LinkFact OfCharacteristic(LinkRow row)
    {
        var what = row.Serial ?? $"{row.PartNumber}{(row.Place == 1 ? "" : $" ({row.Place})")}, not ordered yet";
        var from = $"{what}, balloon {row.Balloon}{(row.Count is > 1 ? $".{row.Instance}" : "")}";
        if (row.Unit is null)
            return Broken(row, from, $"{row.PartNumber} has no balloon {row.Balloon} any more");
        var angle = Units.TryParse(row.Unit, out var unit) && Units.IsAngle(unit);
        if (row.LowerLimit is not { } lower || row.UpperLimit is not { } upper)
            return Broken(row, from, $"balloon {row.Balloon} of {row.PartNumber} has only one limit");
        var nominal = row.Nominal ?? (lower + upper) / 2;
        double In(decimal value) => (double)(angle ? value / 3600 : value);
        var drawn = Link(row, In(nominal), In(lower - nominal), In(upper - nominal));
        var now = row.Value is { } value
            ? drawn with { Measured = In(value), StandardUncertainty = row.ExpandedUncertainty is { } u ? In(u) / 2 : null }
            : null;
        return Fact(row, from, angle ? "°" : "mm", drawn, now, row.Stage) with { DrawnIn = angle ? "°" : unit is Engineering.Quantities.Unit.Inch or Engineering.Quantities.Unit.Mil ? "in" : "mm" };
    }

    private static LinkFact OfSurvey(LinkRow row)
    {
        var from = $"survey {row.Survey}: {row.Point}{(row.OtherPoint is null ? "" : $" to {row.OtherPoint}")} {row.Axis}";
        if (row.Ax is null || (row.OtherPoint is not null && row.Bx is null))
            return Broken(row, from, $"survey {row.Survey} has no point {(row.Ax is null ? row.Point : row.OtherPoint)} any more");
        if ((row.Axis == "z" && row.Az is null) || (row is { Axis: "z", OtherPoint: not null, Bz: null }))
            return Broken(row, from, $"survey {row.Survey} has no z there");
        var measured = Surveyed(row);
        // Coordinates are stated with k = 2; a difference of two adds them in squares (JCGM 100:2008, 5.1.2).
        var uncertainty = Math.Sqrt(Square(row.Au) + Square(row.OtherPoint is null ? 0 : row.Bu)) / 2;
        var drawn = row.NominalMm is { } nominal
            ? Link(row, (double)nominal, (double)row.LowerMm!, (double)row.UpperMm!)
            : Link(row, measured, 0, 0);
        return Fact(row, from, "mm", drawn, drawn with { Measured = measured, StandardUncertainty = uncertainty }, "as found");
    }

    private static double Surveyed(LinkRow row)
    {
        var (x, y, z) = ((double)(row.Ax - (row.Bx ?? 0))!, (double)(row.Ay - (row.By ?? 0))!, (double)((row.Az ?? 0) - (row.Bz ?? 0)));
        var one = row.OtherPoint is null;
        return row.Axis switch
        {
            "x" => one ? x : Math.Abs(x),
            "y" => one ? y : Math.Abs(y),
            "z" => one ? z : Math.Abs(z),
            _ => Math.Sqrt((x * x) + (y * y) + (row.Az is null || row.Bz is null ? 0 : z * z)),
        };
    }

    private static double Square(decimal? value) => (double)((value ?? 0) * (value ?? 0));

    private static ChainLink Link(LinkRow row, double nominal, double lower, double upper) =>
        new(row.Name, nominal, lower, upper, (double)row.Sensitivity, row.Distribution);

    private static LinkFact Fact(LinkRow row, string from, string unit, ChainLink drawn, ChainLink? now, string? stage) =>
        new(row.Name, from, unit, drawn, now ?? drawn, now is null ? null : stage, row.PieceId, row.Serial, null, row.Source == "characteristic");

    private static LinkFact Broken(LinkRow row, string from, string problem) => new(row.Name, from, "mm", null, null, null, row.PieceId, row.Serial, problem);
}
