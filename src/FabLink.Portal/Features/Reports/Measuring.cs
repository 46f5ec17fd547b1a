using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Reports;

/// <summary>What must be known to measure a piece at a stage: which piece it is, and what its revision asks for there.</summary>
public static class Measuring
{
    /// <summary>A piece as whoever measures it sees it; the order's number and the shop are empty for a shop that has only a step of it.</summary>
    public sealed record PieceRow(
        Guid Id,
        string Serial,
        Guid OwnerId,
        Guid? ShopId,
        string? OrderNumber,
        Guid WorkOrderId,
        Guid LineId,
        Guid RevisionId,
        string RevisionLetter,
        string DrawingUnit,
        string PartNumber,
        string PartName,
        string? DrawingNumber)
    {
        public Relation RelationOf(Actor actor) => actor.RelationTo(OwnerId, ShopId);
    }

    private const string Piece = """
        select p.id, p.serial, p.owner_id, w.shop_id, w.number as order_number, p.work_order_id, p.line_id, p.revision_id, r.letter as revision_letter,
               r.unit as drawing_unit, t.number as part_number, t.name as part_name, d.number as drawing_number
        from piece p join revision r on r.id = p.revision_id join part t on t.id = p.part_id
             left join drawing d on d.id = r.drawing_id left join work_order w on w.id = p.work_order_id
        """;

    private const string Characteristics = $"select {Characteristic.Columns} from characteristic";

    public static Task<PieceRow?> PieceAsync(Work work, Guid id) =>
        work.RowAsync<PieceRow>(Piece + " where p.id = @id", new { id });

    public static Task<IReadOnlyList<PieceRow>> PiecesAsync(Work work, Guid[] ids) =>
        work.RowsAsync<PieceRow>(Piece + " where p.id = any(@ids) order by p.serial", new { ids });

    public static Task<IReadOnlyList<PieceRow>> PiecesOfLineAsync(Work work, Guid lineId) =>
        work.RowsAsync<PieceRow>(Piece + " where p.line_id = @lineId order by p.serial", new { lineId });

    /// <summary>Everything on the drawing, whatever the stage.</summary>
    public static Task<IReadOnlyList<Characteristic>> CharacteristicsAsync(Work work, Guid revision) =>
        work.RowsAsync<Characteristic>(Characteristics + " where revision_id = @revision order by balloon", new { revision });

    /// <summary>What the revisions ask for at a stage, in the order of the balloons.</summary>
    public static Task<IReadOnlyList<Characteristic>> CharacteristicsAsync(Work work, Guid[] revisions, string stage) =>
        work.RowsAsync<Characteristic>(Characteristics + " where revision_id = any(@revisions) and @stage = any(stages) order by balloon", new { revisions, stage });

    /// <summary>The stages of a line at which the actor may measure, in the order of the route.</summary>
    public static async Task<IReadOnlyList<string>> StagesAsync(Work work, PieceRow piece)
    {
        var given = (await GivenAsync(work, [piece]))[piece.LineId].ToList();
        return [.. Stages.All.Where(stage => May(work, piece, stage, given))];
    }

    /// <summary>Why these pieces are not the actor's to measure at this stage, or null.</summary>
    public static async Task<string?> NotGivenAsync(Work work, IReadOnlyCollection<PieceRow> pieces, string stage)
    {
        var given = await GivenAsync(work, pieces);
        if (pieces.FirstOrDefault(piece => !May(work, piece, stage, given[piece.LineId])) is not { } other)
            return null;
        var of = given[other.LineId].ToList();
        var own = Stages.All.Where(each => of.Exists(row => row.Stage == each && row.OrganisationId == work.Actor.OrganisationId)).ToList();
        var there = of.Where(row => row.Stage == stage).Select(row => row.Organisation ?? "another shop").ToList();
        var us = work.Actor.OrganisationName;
        var why = there.Count switch
        {
            0 => $"no step at stage {stage} was given to {us}",
            1 => $"{there[0]} measures at stage {stage}",
            _ => $"{string.Join(" and ", there)} measure at stage {stage}",
        };
        return $"{other.Serial}: {why}. " + (own.Count > 0 ? $"{us} measures at {string.Join(", ", own)}." : $"None of the steps of {us} is measured.");
    }

    private static bool May(Work work, PieceRow piece, string stage, IEnumerable<GivenRow> given) =>
        Stages.MeasuredBy(piece.RelationOf(work.Actor), work.Actor.OrganisationId, [.. given.Where(row => row.Stage == stage).Select(row => row.OrganisationId)]);

    /// <summary>Who has a step at which stage of the lines of these pieces; a shop with only a step sees its own.</summary>
    private static async Task<ILookup<Guid, GivenRow>> GivenAsync(Work work, IEnumerable<PieceRow> pieces)
    {
        const string Given = """
            select distinct s.line_id, r.stage, s.organisation_id, o.name as organisation
            from piece_step s join route_step r on r.id = s.route_step_id left join organisation o on o.id = s.organisation_id
            where s.line_id = any(@lines) and r.stage is not null order by o.name
            """;
        return (await work.RowsAsync<GivenRow>(Given, new { lines = pieces.Select(piece => piece.LineId).Distinct().ToArray() })).ToLookup(row => row.LineId);
    }

    /// <summary>Pieces whose step at this stage has not begun by the record: what is measured now is of an unfinished part, or somebody forgot a button.</summary>
    public static async Task<IReadOnlyList<string>> TooEarlyAsync(Work work, Guid[] pieces, string stage)
    {
        const string Early = """
            select p.serial, min(r.kind) as kind from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id
            where s.piece_id = any(@pieces) and r.stage = @stage group by p.id, p.serial having not bool_or(coalesce(step_is_reached(s.id), true)) order by p.serial
            """;
        return
        [
            .. (await work.RowsAsync<EarlyRow>(Early, new { pieces, stage })).GroupBy(row => row.Kind).Select(group =>
                $"By the record {group.Key} of {Pieces.Serials.Words([.. group.Select(row => row.Serial)])} has not begun. If it has, start it on its page first; values from before it do not open its hold."),
        ];
    }

    /// <summary>How those of the pieces ended on which nothing more is measured, behind "it is".</summary>
    public static async Task<IReadOnlyDictionary<Guid, string>> OverAsync(Work work, Guid[] pieces)
    {
        return (await work.RowsAsync<OverRow>("select id, ended from over_among(@pieces)", new { pieces })).ToDictionary(row => row.Id, row => Pieces.PieceRoute.OverWords(row.Ended));
    }

    private sealed record OverRow(Guid Id, string Ended);

    private sealed record EarlyRow(string Serial, string Kind);

    private sealed record GivenRow(Guid LineId, string Stage, Guid OrganisationId, string? Organisation);
}
