using System.Net;
using System.Text;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;

namespace FabLink.Portal.Tests.Reports;

/// <summary>What the pages say between a measured part and its verdict.</summary>
public sealed class MeasuringPageTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private const string Ida = "ida@holmlane.example";

    // 120 mm are 4.724 in (1 in is 25.4 mm exactly).
    [Fact]
    public async Task A_value_that_looks_like_another_unit_is_shown_once_more_before_it_is_judged()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");

        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "4.724")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Contains("Balloon 1: 4.724 is far from 120 ±0.5, and near it when read in inches.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Equal("4.724", ida.Page.Find($"input[name='{Value(flange.Length)}']").GetAttribute("value"));
        Assert.Equal(0, await ReportsAsync(flange));

        // Another odd value is another question; the same one twice is an answer.
        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "12.0")]);
        Assert.Contains("12.0 is far from 120 ±0.5, and near it when read with its decimal mark one place to the right", ida.Page.Text, StringComparison.Ordinal);
        Assert.Equal(0, await ReportsAsync(flange));
        await ida.SubmitAsync("button[value=submit]");
        Assert.StartsWith("/reports/", ida.Page.Address.AbsolutePath, StringComparison.Ordinal);
        Assert.Equal(1, await ReportsAsync(flange));
    }

    [Fact]
    public async Task The_field_for_an_uncertainty_stays_where_the_instrument_is_in_the_book()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        await portal.Scene.AskAsync<object>(
            "insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty) values (gen_random_uuid(), @HolmLane, 'caliper 31', 'caliper', 'mm', 0.01, 0.1)", new { portal.Scene.HolmLane });
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        await ida.SubmitAsync("button[value=submit]", [("instrument", "caliper 31"), (Value(flange.Length), "120.1")]);

        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        Assert.Equal("caliper 31", ida.Page.Find("[name=instrument]").GetAttribute("value"));
        Assert.NotNull(ida.Page.Document.QuerySelector($"input[name='Entries[{KeepDraft.KeyOf(flange.Length, 1)}].Uncertainty']"));
        Assert.Null(ida.Page.Document.QuerySelector($"input[name='Entries[{KeepDraft.KeyOf(flange.Minor, 1)}].Uncertainty']"));
    }

    [Fact]
    public async Task An_uncertainty_is_typed_beside_its_value_or_in_its_own_field_and_not_twice()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        var own = $"Entries[{KeepDraft.KeyOf(flange.Length, 1)}].Uncertainty";
        Assert.NotNull(ida.Page.Document.QuerySelector($"input[name='{own}']"));
        Assert.Null(ida.Page.Document.QuerySelector($"input[name='Entries[{KeepDraft.KeyOf(flange.Minor, 1)}].Uncertainty']"));

        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "120,1 ±0,05"), (own, "0.05")]);
        Assert.Contains("Balloon 1, uncertainty: it stands beside the value (±0,05) and in its own field as well", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "120 kg"), (own, "")]);
        Assert.Contains("Balloon 1: “120 kg”: “kg” is not a unit that is known here.", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "120,1 ±0,05")]);
        Assert.Equal(0.05m, await flange.OfPieceAsync<decimal>("select v.expanded_uncertainty from report r join measured_value v on v.report_id = r.id where r.piece_id = @Piece"));

        portal.Scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        await ida.SubmitAsync("button[value=submit]", [(Value(flange.Length), "120.2"), (own, "±0.07")]);
        Assert.Equal(0.07m, await flange.OfPieceAsync<decimal>("select v.expanded_uncertainty from report r join measured_value v on v.report_id = r.id where r.piece_id = @Piece and v.value = 120.2"));
    }

    [Fact]
    public async Task The_preview_counts_what_an_earlier_report_brought_and_the_report_says_where_the_piece_stands()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        using var ida = await portal.SignInAsync(Ida);
        var all = new StringBuilder("balloon,value,unit,uncertainty\n1,120.1,mm,0.05\n2,go,,\n20,96,mm,\n");
        for (var hole = 1; hole <= 10; hole++)
            all.Append($"12.{hole},{(hole == 10 ? "14" : "13.5")},mm,\n");

        await PreviewAsync(ida, line, "all.csv", all.ToString());
        Assert.Contains("Nothing that this stage asks for is missing.", ida.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("from an earlier report", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.Contains("Does not conform at tack: stop before weld", ida.Page.Text, StringComparison.Ordinal);

        await PreviewAsync(ida, line, "one.csv", "balloon,value,unit\n12.10,13.6,mm\n");
        Assert.Contains("Nothing that this stage asks for is missing. 12 values that are not in it stand from an earlier report.", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.Contains("Conforms at tack", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Ready for weld. Weld is yours to start.", ida.Page.Text, StringComparison.Ordinal);

        // Back in the browser, or the same file once more: it says what has become of it.
        var report = ida.Page.Address.AbsolutePath;
        await PreviewAsync(ida, line, "one.csv", "balloon,value,unit\n12.10,13.6,mm\n");
        Assert.Contains("This file is submitted already", ida.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("nothing is submitted yet", ida.Page.Text, StringComparison.Ordinal);
        Assert.NotNull(ida.Page.Document.QuerySelector($"a[href='{report}']"));
    }

    [Fact]
    public async Task Whoever_decides_looks_again_when_a_report_came_meanwhile_and_keeps_the_reason()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        await flange.MeasuredAsync([.. flange.Good(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m), Flange.Value(flange.Holes, 14.6m, 7)).Where(value => value.CharacteristicId != flange.Minor)]);
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync($"/nonconformances/{await flange.OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece")}");
        Assert.Contains("covers what is not proven (balloon 1), what does not conform (balloon 12.7), what is not measured (balloon 20)", mara.Page.Text, StringComparison.Ordinal);
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.4m, 3));
        await mara.SubmitAsync("main form[action^='/nonconformances/']", [("disposition", "use as is"), ("reason", "A washer covers it.")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains("a later report at stage tack came", mara.Page.Text, StringComparison.Ordinal);
        Assert.Equal("A washer covers it.", mara.Page.Find("textarea[name=reason]").TextContent.Trim());
        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from concession_piece where piece_id = @Piece"));
        // Looked at, it is decided.
        await mara.SubmitAsync("main form[action^='/nonconformances/']", [("disposition", "use as is")]);
        Assert.Equal(HttpStatusCode.OK, mara.Page.Status);
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from concession_piece where piece_id = @Piece"));
    }

    /// <summary>A concession on a report that was overtaken is refused in words, and what was typed is there to be taken along.</summary>
    [Fact]
    public async Task A_concession_on_an_overtaken_report_says_so_and_keeps_the_reason()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var first = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m)));
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync($"/reports/{first.ReportId}");
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7));
        await mara.SubmitAsync("form[action$='/concession']", [("reason", "The edge is free there.")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains("A later report of this stage came in the meantime", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("What you typed: The edge is free there.", mara.Page.Text, StringComparison.Ordinal);
    }

    /// <summary>A page from before a report would close what that report found without a word; it asks once, and keeps what was typed.</summary>
    [Fact]
    public async Task A_page_from_before_the_newest_report_says_what_came_meanwhile_and_asks_once_more()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var key = $"Entries[{KeepDraft.KeyOf(flange.Minor, 1)}].Value";
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Minor, 99m)));

        await ida.SubmitAsync("form.measuring", [(key, "96.1")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Contains("submitted a report of this piece at this stage on", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains(": does not conform. If you measured after that, submit once more", ida.Page.Text, StringComparison.Ordinal);
        Assert.Equal("96.1", ida.Page.Find($"[name='{key}']").GetAttribute("value"));
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from nonconformance where piece_id = @Piece and closed_at is null"));

        await ida.SubmitAsync("form.measuring");
        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from nonconformance where piece_id = @Piece and closed_at is null"));
    }

    [Fact]
    public async Task A_preview_from_before_the_newest_report_says_what_came_meanwhile_and_asks_once_more()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        Task<long> OpenAsync() => flange.OfPieceAsync<long>("select count(*) from nonconformance where piece_id = @Piece and closed_at is null");
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "again.csv", "balloon,value,unit\n20,96.1,mm\n");
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Minor, 99m)));

        await ida.SubmitAsync("form[action^='/uploads/']", [("note", "On the plate.")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Contains(": does not conform. If what is in this file was measured after that, submit once more", ida.Page.Text, StringComparison.Ordinal);
        Assert.Equal("On the plate.", ida.Page.Find("textarea[name='note']").TextContent.Trim());
        Assert.Equal(1, await OpenAsync());

        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.Equal(0, await OpenAsync());
        Assert.Equal("On the plate.", await flange.OfPieceAsync<string>("select note from report where piece_id = @Piece and source = 'file'"));
    }

    /// <summary>What was measured before a report that came since is not taken for newer because a page is opened again.</summary>
    [Fact]
    public async Task A_preview_or_kept_values_from_before_a_report_say_so_when_they_are_opened_again()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "first.csv", "balloon,value,unit\n20,96.1,mm\n");
        var preview = ida.Page.Address.AbsolutePath;
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        await ida.SubmitAsync("form.measuring button[value='keep']", [(Value(flange.Minor), "96.2"), (Value(flange.Length), "120.1 ±0.05")]);

        using var other = await portal.SignInAsync("ned@saltmarsh.example");
        await PreviewAsync(other, line, "second.csv", "balloon,value,unit\n20,99,mm\n");
        await other.SubmitAsync("form[action^='/uploads/']");
        Assert.Contains("If what is in this file was measured after that, submit once more", (await ida.GetAsync(preview)).Text, StringComparison.Ordinal);
        Assert.Contains("What is kept below was typed before that", (await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack")).Text, StringComparison.Ordinal);

        // What a file of one's own brings is typed no more; what it does not bring stays as it was typed.
        await PreviewAsync(ida, line, "third.csv", "balloon,value,unit\n20,96.3,mm\n");
        await ida.SubmitAsync("form[action^='/uploads/']");
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        Assert.Equal("120.1 ±0.05", ida.Page.Find($"[name='{Value(flange.Length)}']").GetAttribute("value"));
        Assert.Equal("", ida.Page.Find($"[name='{Value(flange.Minor)}']").GetAttribute("value") ?? "");
    }

    /// <summary>A file that became reports stays submitted, whatever becomes of its pieces.</summary>
    [Fact]
    public async Task A_submitted_file_stays_submitted_when_its_piece_is_given_up()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "bad.csv", "balloon,value,unit\n12.10,15,mm\n");
        var upload = ida.Page.Address.AbsolutePath;
        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(portal.Scene.Mara, "scrap"));
        await ida.GetAsync(upload);
        Assert.Contains("This file is submitted already", ida.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Nothing was submitted", ida.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_file_gives_the_uncertainty_behind_its_value_too()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "u.csv", "balloon;value;unit;uncertainty\n1;120,1 ±0,05;mm;0,05\n");
        Assert.Contains("It stands beside the value (±0,05) and in its own field as well. Leave one of them out.", ida.Page.Text, StringComparison.Ordinal);
        // 0.004 in are 0.1016 mm (1 in is 25.4 mm exactly); the value's own unit is the one that is shown.
        await PreviewAsync(ida, line, "v.csv", "balloon;value;unit;uncertainty\n1;120,1;mm;0.004 in\n");
        Assert.Equal("0.1016 mm", ida.Page.Find("td[data-label=Uncertainty]").TextContent.Trim());
        Assert.Equal("120,1 mm", ida.Page.Find("td[data-label=Value]").TextContent.Trim());
        await PreviewAsync(ida, line, "u.csv", "balloon;value;unit\n1;120,1 +/- 0,05;mm\n");
        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.Equal((120.1m, 0.05m), (
            await flange.OfPieceAsync<decimal>("select v.value from report r join measured_value v on v.report_id = r.id where r.piece_id = @Piece"),
            await flange.OfPieceAsync<decimal>("select v.expanded_uncertainty from report r join measured_value v on v.report_id = r.id where r.piece_id = @Piece")));
    }

    [Fact]
    public async Task Nothing_is_offered_for_a_piece_that_is_over()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "first.csv", "balloon,value,unit\n20,96,mm\n");
        var before = ida.Page.Address.AbsolutePath;
        Assert.NotNull(ida.Page.Document.QuerySelector("form[action^='/uploads/']"));
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(portal.Scene.Mara, "scrap"));

        await ida.GetAsync(before);
        Assert.Contains("it is scrapped, nothing more is measured on it.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("form[action^='/uploads/']"));
        Assert.DoesNotContain("Send another file", ida.Page.Text, StringComparison.Ordinal);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        Assert.Contains("is scrapped", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("button[value=submit]"));
        await ida.GetAsync($"/lines/{line}/measure?stage=tack");
        Assert.Null(ida.Page.Document.QuerySelector("form[enctype]"));
        Assert.Null(ida.Page.Document.QuerySelector($"a[href='/pieces/{flange.Piece}/measure/tack']"));
    }

    [Fact]
    public async Task Where_a_serial_is_unknown_only_pieces_that_go_on_are_offered()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        var line = await flange.OfPieceAsync<Guid>("select line_id from piece where id = @Piece");
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(portal.Scene.Mara, "remake"));
        var (old, anew) = (await flange.OfPieceAsync<string>("select serial from piece where id = @Piece"), await flange.OfPieceAsync<string>("select serial from piece where instead_of = @Piece"));
        using var ida = await portal.SignInAsync(Ida);
        await PreviewAsync(ida, line, "two.csv", $"serial,balloon,value,unit\n{old},20,96,mm\nXX-9,20,96,mm\n");
        Assert.Contains($"{old}: it is made anew, nothing more is measured on it.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains($"Expected: {anew}.", ida.Page.Text, StringComparison.Ordinal);
    }

    /// <summary>What the shop wrote and what the portal remarks are not one sentence.</summary>
    [Fact]
    public async Task Each_part_of_the_note_of_a_report_is_a_line_of_its_own()
    {
        var flange = await Flange.TackedAsync(portal.Scene);
        await portal.Scene.AskAsync<object>(
            "insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty) values (gen_random_uuid(), @HolmLane, 'arm 40', 'portable arm', 'mm', 0.01, 0.1)", new { portal.Scene.HolmLane });
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{flange.Piece}/measure/tack");
        await ida.SubmitAsync("button[value=submit]", [("instrument", "old ruler"), (Value(flange.Length), "120.1"), ("note", "on the granite, 19 °C")]);
        var note = ida.Page.Find("dd.lines").TextContent.Split('\n');
        Assert.Equal("on the granite, 19 °C", note[0]);
        Assert.StartsWith("Critical dimensions measured with", note[1], StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_coater_is_not_told_which_other_balloons_a_drawing_has()
    {
        var order = await portal.Scene.AcceptedAsync(portal.Scene.Line(route: [new("powder coat", portal.Scene.Teal, "after coat")]));
        var line = await portal.Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        using var wren = await portal.SignInAsync("wren@teal.example");
        await PreviewAsync(wren, line, "coat.csv", "balloon,value,unit\n1,25,mm\n2,7,mm\n", "after coat");
        Assert.Contains("Balloon 2 is not asked of you at stage “after coat”; its values are passed over.", wren.Page.Text, StringComparison.Ordinal);
        Assert.NotNull(wren.Page.Document.QuerySelector("form[action^='/uploads/']"));
        await wren.GetAsync($"/lines/{line}/measure?stage=after%20coat");
        Assert.Contains("1 value of each piece is asked at after coat", wren.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_preview_says_the_unit_of_the_requirement_beside_a_value_in_another_and_counts_verdicts_in_words()
    {
        var order = await portal.Scene.AcceptedAsync(portal.Scene.Line(quantity: 3, route: [new("fit and tack", null, "tack", "hold", "report")]));
        await portal.Scene.StartAsync(portal.Scene.Ida, await portal.Scene.StepsAsync(order, "fit and tack"));
        var line = await portal.Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        var serials = (await portal.Scene.AskAsync<string[]>("select array_agg(serial order by serial) from piece where work_order_id = @order", new { order }))!;
        using var ida = await portal.SignInAsync(Ida);
        // 0.984 in are 24.9936 mm.
        await PreviewAsync(ida, line, "three.csv", $"serial,balloon,value,unit\n{serials[0]},1,0.984,in\n{serials[1]},1,25.3,mm\n{serials[2]},1,25.4,mm\n");
        Assert.Equal(["25 ±0.1 mm", "25 ±0.1", "25 ±0.1"], ida.Page.Document.QuerySelectorAll("td[data-label=Requirement]").Select(cell => cell.TextContent.Trim()));
        await ida.SubmitAsync("form[action^='/uploads/']");
        Assert.Contains("1 conforms, 2 do not conform.", ida.Page.Text, StringComparison.Ordinal);
    }

    private static string Value(Guid characteristic) => $"Entries[{KeepDraft.KeyOf(characteristic, 1)}].Value";

    private static async Task PreviewAsync(Person who, Guid line, string name, string content, string stage = "tack")
    {
        await who.GetAsync($"/lines/{line}/measure?stage={Uri.EscapeDataString(stage)}");
        await who.SubmitAsync("form[enctype]", null, new Upload("File", name, Encoding.UTF8.GetBytes(content), "text/csv"));
    }

    private static Task<long> ReportsAsync(Flange flange) => flange.OfPieceAsync<long>("select count(*) from report where piece_id = @Piece");
}
