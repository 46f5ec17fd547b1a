using Dapper;
using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Geometry;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Surveys;
using Npgsql;

namespace FabLink.Portal.Features.Joints;

/// <summary>A joint as it is kept.</summary>
public sealed record JointRow(
    Guid Id,
    Guid OwnerId,
    Guid BuildId,
    string Name,
    Guid PartId,
    string Pattern,
    int Place,
    decimal FilmMm,
    Guid? MatePartId,
    string? MatePattern,
    int? MatePlace,
    Guid? MateSurveyId,
    decimal MateFilmMm,
    decimal WantedMarginMm,
    decimal RotationLimitDegrees,
    int RowVersion)
{
    public const string Columns = """
        id, owner_id, build_id, name, part_id, pattern, place, film_mm, mate_part_id, mate_pattern, mate_place, mate_survey_id, mate_film_mm,
        wanted_margin_mm, rotation_limit_degrees, row_version
        """;

    public JointTerms Terms => new((double)WantedMarginMm, (double)RotationLimitDegrees, (double)FilmMm, (double)MateFilmMm);
}

/// <summary>A piece of the build in its place, with whom it concerns.</summary>
/// <param name="Welded">Past its tacks: a detail is not moved any more without cutting.</param>
public sealed record PlacedPiece(Guid PieceId, string Serial, Guid PartId, Guid RevisionId, string Unit, Guid WorkOrderId, Guid ShopId, bool Finished, bool Welded = false);

/// <summary>Both sides of a joint as the record has them now.</summary>
public sealed record JointFacts(JointRow Joint, JointSideFacts Part, PlacedPiece? PartPiece, JointSideFacts Mate, PlacedPiece? MatePiece)
{
    public JointFinding Find() => JointChecking.Find(Part, Mate, Joint.Terms with { SetIn = Part.Unit, Welded = PartPiece?.Welded == true });

    /// <summary>The same joint, seen by the shop that makes the mate.</summary>
    public JointFinding FindForMate() => JointChecking.Find(
        Mate, Part, Joint.Terms with { PartFilm = (double)Joint.MateFilmMm, MateFilm = (double)Joint.FilmMm, SetIn = Mate.Unit, Welded = MatePiece?.Welded == true });
}

/// <summary>Reads what joints are made of. Works on any connection that may see it: the actor's, or the job's.</summary>
public sealed class JointReading(NpgsqlConnection connection, NpgsqlTransaction? transaction, CancellationToken cancellation)
{
    private const string Pieces = """
        select p.piece_id, p.serial, p.part_id, p.revision_id, r.unit, p.work_order_id, w.shop_id,
               not exists (select 1 from piece_step s where s.piece_id = p.piece_id and s.finished_at is null) as finished,
               exists (select 1 from piece_step s join route_step t on t.id = s.route_step_id where s.piece_id = p.piece_id and t.kind = 'weld' and s.started_at is not null) as welded
        from pieces_in_place(@build) p join revision r on r.id = p.revision_id join work_order w on w.id = p.work_order_id
        where p.part_id = @part and p.place = @place
        """;

    private const string NewestRevision = """
        select id, unit from revision where part_id = @part order by released_at is null, length(letter) desc, letter desc limit 1
        """;

    private const string PartNumber = "select number from part where id = @part";

    private const string Located = $"""
        select {LocatedRow.Columns} from characteristic where revision_id = @revision and locates <> '' order by balloon
        """;

    private const string Measured = """
        select distinct on (v.characteristic_id, v.instance) v.characteristic_id, v.instance, v.value, v.expanded_uncertainty, r.stage, v.bonus
        from report r join measured_value v on v.report_id = r.id
        where r.piece_id = @piece and v.characteristic_id = any(@characteristics) and v.value is not null
        order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        """;

    private const string Survey = "select name from survey where id = @survey";

    private const string Points = """
        select name, x_mm, y_mm, z_mm, diameter_mm, slot_length_mm, slot_degrees, uncertainty_mm from survey_point where survey_id = @survey order by ordinal
        """;

    private sealed record RevisionRow(Guid Id, string Unit);

    private sealed record ValueRow(Guid CharacteristicId, short Instance, decimal Value, decimal? ExpandedUncertainty, string Stage, decimal? Bonus);

    private sealed record PointRow(string Name, decimal XMm, decimal YMm, decimal? ZMm, decimal? DiameterMm, decimal? SlotLengthMm, decimal? SlotDegrees, decimal? UncertaintyMm);

    public async Task<JointFacts> OfAsync(JointRow joint)
    {
        var (part, partPiece) = await SideAsync("part", joint.BuildId, joint.PartId, joint.Pattern, joint.Place);
        if (joint.MateSurveyId is { } survey)
            return new JointFacts(joint, part, partPiece, await SurveyAsync(survey, part), null);
        var (mate, matePiece) = await SideAsync("mate", joint.BuildId, joint.MatePartId!.Value, joint.MatePattern!, joint.MatePlace!.Value);
        return new JointFacts(joint, part, partPiece, mate, matePiece);
    }

    private async Task<JointSideFacts> SurveyAsync(Guid survey, JointSideFacts part)
    {
        var name = await ValueAsync<string>(Survey, new { survey });
        var points = await RowsAsync<PointRow>(Points, new { survey });
        var plane = SurveyPlane.Of(
            [.. points.Select(point => new SurveyPlane.Point(point.Name, point.XMm, point.YMm, point.ZMm, point.UncertaintyMm))], part.Holes.Select(hole => hole.Name).ToHashSet());
        return new JointSideFacts(
            $"survey {name}", [.. points.Zip(plane.Places, Surveyed)], IsPart: false, plane.Why.Length > 0 ? [$"Survey {name}: {plane.Why}"] : [])
        { Cautions = plane.Cautions };
    }

    private static SideHole Surveyed(PointRow point, Vector2D place)
    {
        var side = new BoltUpSide
        {
            X = place.X,
            Y = place.Y,
            Diameter = (double?)point.DiameterMm,
            Slot = point is { SlotLengthMm: { } length, DiameterMm: { } width, SlotDegrees: { } along } ? new BoltUpSlot { Travel = (double)(length - width), AngleDegrees = (double)along } : null,
            Uncertainty = point.UncertaintyMm > 0 ? (double)point.UncertaintyMm : null,
        };
        // Without a diameter it is a stud or a thread of the machine.
        return new SideHole(point.Name, side, side, Measured: true, Fastener: null, point.DiameterMm is null ? "stud" : null, []);
    }

    private async Task<(JointSideFacts, PlacedPiece?)> SideAsync(string side, Guid build, Guid part, string pattern, int place)
    {
        var piece = (await RowsAsync<PlacedPiece>(Pieces, new { build, part, place })).SingleOrDefault();
        var number = piece?.Serial ?? await ValueAsync<string>(PartNumber, new { part }) ?? "a part";
        var what = $"{number} {pattern}";
        var revision = piece is not null ? new RevisionRow(piece.RevisionId, piece.Unit) : (await RowsAsync<RevisionRow>(NewestRevision, new { part })).SingleOrDefault();
        if (revision is null)
            return (new JointSideFacts(what, [], IsPart: true, [$"{number} has no drawing yet."]), piece);
        var rows = await RowsAsync<LocatedRow>(Located, new { revision = revision.Id });
        var drawn = HolePatterns.Of(rows).FirstOrDefault(one => string.Equals(one.Name, pattern, StringComparison.OrdinalIgnoreCase));
        if (drawn is null)
            return (new JointSideFacts(what, [], IsPart: true, [$"The drawing of {number} has no hole pattern {pattern}."]), piece);
        var measured = piece is null ? [] : await RowsAsync<ValueRow>(Measured, new { piece = piece.PieceId, characteristics = rows.Select(row => row.Id).ToArray() });
        return (
            JointSideFacts.OfPattern(
                what, side, drawn, measured.ToDictionary(row => (row.CharacteristicId, (int)row.Instance), row => new MeasuredNow(row.Value, row.ExpandedUncertainty, row.Stage, row.Bonus))) with
            {
                Unit = revision.Unit,
            },
            piece);
    }

    private async Task<IReadOnlyList<T>> RowsAsync<T>(string sql, object args) =>
        (await connection.QueryAsync<T>(new CommandDefinition(sql, args, transaction, cancellationToken: cancellation))).AsList();

    private Task<T?> ValueAsync<T>(string sql, object args) =>
        connection.ExecuteScalarAsync<T>(new CommandDefinition(sql, args, transaction, cancellationToken: cancellation));
}
