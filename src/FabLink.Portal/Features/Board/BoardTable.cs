using System.Text.Encodings.Web;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Web;
using FabLink.Portal.Platform.Web.Pictures;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Features.Board;

/// <summary>The table of the board, written straight to the page: two thousand rows of it must stay cheap.</summary>
public sealed class BoardTable(ShowBoard.Page page) : IHtmlContent
{
    private readonly Dictionary<DateOnly, string> _days = [];
    private readonly Dictionary<int, string> _shortDays = [];

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        writer.Write("<table class=\"rows dense board\"><thead><tr><th>Piece</th><th>Needed</th><th>Promised</th><th>Waits for</th>");
        var labels = new string[page.Columns.Count];
        for (var i = 0; i < labels.Length; i++)
        {
            labels[i] = encoder.Encode(page.Columns[i]);
            writer.Write("<th>");
            writer.Write(labels[i]);
            writer.Write("</th>");
        }
        writer.Write("</tr></thead><tbody>");
        var columnOf = page.Columns.Select((kind, index) => (kind, index)).ToDictionary(pair => pair.kind, pair => pair.index);
        var cells = new StepFacts?[labels.Length];
        foreach (var piece in page.Pieces)
            WriteRow(writer, encoder, piece, columnOf, cells, labels);
        writer.Write("</tbody></table>");
    }

    private void WriteRow(
        TextWriter writer, HtmlEncoder encoder, ShowBoard.PieceRow piece, Dictionary<string, int> columnOf, StepFacts?[] cells, string[] labels)
    {
        var row = piece.Row;
        writer.Write(piece.IsHeld || piece.Late ? "<tr class=\"stop\"><td data-label=\"Piece\"><a href=\"/pieces/" : "<tr><td data-label=\"Piece\"><a href=\"/pieces/");
        writer.Write(row.Id);
        writer.Write("\">");
        encoder.Encode(writer, row.Serial);
        writer.Write("</a> <small>");
        encoder.Encode(writer, row.PartName);
        writer.Write("</small></td><td data-label=\"Needed\">");
        writer.Write(Day(row.NeedDate));
        writer.Write("</td><td data-label=\"Promised\">");
        if (row.Promised is { } promised)
        {
            writer.Write(Day(promised));
            if (promised > row.NeedDate)
                writer.Write(" <strong>late</strong>");
        }
        else if (row.NeedDate < page.Today)
        {
            writer.Write("<strong>late</strong>");
        }
        writer.Write("</td><td data-label=\"Waits for\">");
        encoder.Encode(writer, piece.WaitsFor ?? "");
        if (row.Nonconformance is { } number)
        {
            writer.Write("<br><small>");
            encoder.Encode(writer, row.Decided is { } decided ? $"{number}: {decided}" : number);
            writer.Write("</small>");
        }
        if (row.HeldByJoint is { } joint)
        {
            writer.Write("<br><small>");
            encoder.Encode(writer, joint);
            writer.Write(" does not bolt up</small>");
        }
        if (piece.Route.NotShownWords is { } unshown)
        {
            writer.Write("<br><small>");
            encoder.Encode(writer, unshown);
            writer.Write("</small>");
        }
        writer.Write("</td>");
        Array.Clear(cells);
        // A kind that comes twice in a route shows where the piece is in it, else the last.
        foreach (var step in piece.Route.Steps)
        {
            ref var cell = ref cells[columnOf[step.Kind]];
            if (cell is null || cell.State == StepState.Finished)
                cell = step;
        }
        for (var i = 0; i < cells.Length; i++)
            WriteCell(writer, encoder, cells[i], labels[i], cells[i] is { } cell && cell == piece.Route.Current ? piece.OnTheWay : null);
        writer.Write("</tr>");
    }

    private void WriteCell(TextWriter writer, HtmlEncoder encoder, StepFacts? step, string label, Shipment? onTheWay)
    {
        writer.Write("<td data-label=\"");
        writer.Write(label);
        if (step is null)
        {
            writer.Write("\"></td>");
            return;
        }
        writer.Write("\">");
        var state = step.State;
        LineSwatch.For(LineOf(step, state)).WriteTo(writer, encoder);
        if (state == StepState.Planned && onTheWay is not null)
        {
            writer.Write(" <small title=\"");
            encoder.Encode(writer, onTheWay.Words);
            writer.Write("\">on the way ");
            writer.Write(ShortDay(onTheWay.At));
            writer.Write("</small></td>");
            return;
        }
        writer.Write(" <small>");
        writer.Write(state switch
        {
            StepState.Finished => ShortDay(step.FinishedAt!.Value),
            StepState.Held => step.OpensBy == "report" ? "held: report" : "held: release",
            StepState.WaitingForWitness => "held: witness",
            StepState.InWork or StepState.AtOutsideProcess => ShortDay(step.StartedAt!.Value),
            _ => "",
        });
        writer.Write("</small></td>");
    }

    private static LineType LineOf(StepFacts step, StepState state) => state switch
    {
        StepState.Finished => LineType.Done,
        StepState.InWork => LineType.InWork,
        StepState.AtOutsideProcess => LineType.Outside,
        StepState.Held or StepState.WaitingForWitness => LineType.Held,
        _ => step.Outside ? LineType.Outside : LineType.Planned,
    };

    private string Day(DateOnly day) =>
        _days.TryGetValue(day, out var text) ? text : _days[day] = LocalTime.Day(day);

    /// <summary>Without the weekday: a cell of the route is narrow.</summary>
    private string ShortDay(DateTimeOffset time)
    {
        var day = LocalTime.DayOf(time);
        return _shortDays.TryGetValue(day.DayNumber, out var text) ? text : _shortDays[day.DayNumber] = LocalTime.ShortDay(day);
    }
}
