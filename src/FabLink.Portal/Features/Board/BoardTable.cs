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
        writer.Write(piece.IsHeld || piece.Late || row.Declined ? "<tr class=\"stop\"><td data-label=\"Piece\"><a href=\"/pieces/" : "<tr><td data-label=\"Piece\"><a href=\"/pieces/");
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
            if (promised > row.NeedDate && !piece.Route.IsOver)
                writer.Write(" <strong>late</strong>");
        }
        else if (row.NeedDate < page.Today && !piece.Route.IsOver)
        {
            writer.Write("<strong>late</strong>");
        }
        writer.Write("</td><td data-label=\"Waits for\">");
        encoder.Encode(writer, piece.WaitsFor ?? "");
        var notes = string.Join(" · ", Notes(piece));
        if (notes.Length > 0)
        {
            writer.Write(" <small>");
            encoder.Encode(writer, notes);
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
            WriteCell(writer, encoder, piece, cells[i], labels[i]);
        writer.Write("</tr>");
    }

    /// <summary>Why it waits, below for whom.</summary>
    private IEnumerable<string> Notes(ShowBoard.PieceRow piece)
    {
        var row = piece.Row;
        if (piece.Route.Ended is { } ended)
            yield return PieceRoute.OverWords(ended);
        else if (row.Declined)
            yield return $"{row.OrderNumber} is declined";
        else if (row.NotAccepted)
            yield return $"{row.OrderNumber} is not accepted yet";
        if (row.AskedSince is { } asked && piece.WaitsFor is not null)
            yield return $"question without an answer since {ShortDay(asked)}";
        if (row.Nonconformance is { } number)
            yield return row.Decided is { } decided ? $"{number}: {decided}" : number;
        if (row.HeldByJoint is { } joint)
            yield return $"{joint} does not bolt up";
        if (piece.Route.NotShownWords is { } unshown)
            yield return unshown;
    }

    private void WriteCell(TextWriter writer, HtmlEncoder encoder, ShowBoard.PieceRow piece, StepFacts? step, string label)
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
        LineSwatch.For(piece.Route.LineOf(step)).WriteTo(writer, encoder);
        if (state == StepState.Planned && piece.OnTheWay is { } onTheWay && step == piece.Route.Current)
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
            _ when piece.Route.StopsAt(step) => piece.Route.Stop == PieceStop.Joint ? "held: joint" : $"held: {piece.Row.Nonconformance}",
            StepState.Finished => ShortDay(step.FinishedAt!.Value),
            StepState.Held or StepState.WaitingForWitness when piece.Route.IsOver => ShortDay(step.FinishedAt!.Value),
            StepState.Held => step.OpensBy == "report" ? "held: report" : "held: release",
            StepState.WaitingForWitness => "held: witness",
            StepState.InWork or StepState.AtOutsideProcess => ShortDay(step.StartedAt!.Value),
            _ when piece.Route.IsOver => LineSwatch.Word(LineType.NotDone),
            _ => "",
        });
        writer.Write("</small></td>");
    }

    private string Day(DateOnly day) =>
        _days.TryGetValue(day, out var text) ? text : _days[day] = LocalTime.Day(day);

    /// <summary>Without the weekday: a cell of the route is narrow.</summary>
    private string ShortDay(DateTimeOffset time)
    {
        var day = LocalTime.DayOf(time);
        return _shortDays.TryGetValue(day.DayNumber, out var text) ? text : _shortDays[day.DayNumber] = LocalTime.ShortDay(day);
    }
}
