using System.Net;
using System.Text;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.DependencyInjection;

namespace FabLink.Portal.Tests.Drawings;

/// <summary>The pages as a person without scripts uses them, over the real portal.</summary>
public sealed class DrawingPagesTests(DrawingPagesTests.SignedIn world) : IClassFixture<DrawingPagesTests.SignedIn>
{
    private static readonly byte[] Pdf = Encoding.ASCII.GetBytes("%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n");
    private static readonly byte[] Step = Encoding.ASCII.GetBytes("ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n");

    public sealed class SignedIn : IAsyncLifetime
    {
        public PortalUnderTest Portal { get; private set; } = null!;

        public Cast Cast { get; private set; } = null!;

        public async ValueTask InitializeAsync()
        {
            // Every test signs in anew, more often in a minute than people do.
            Portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["SignIn:PerMinute"] = "1000" }));
            var hash = Portal.Services.CreateScope().ServiceProvider.GetRequiredService<IPasswordHasher<SignInPerson>>().HashPassword(new SignInPerson(), Cast.Password);
            Cast = await Cast.SeedAsync(Portal.Database.OwnerConnectionString, hash);
        }

        public async Task<Person> AsAsync(Actor actor)
        {
            var person = await Portal.StrangerAsync();
            await person.GetAsync("/sign-in?to=/parts");
            await person.SubmitAsync(
                "form:has(input[type=password]) button:not([formaction])", [("Email", Cast.EmailOf(actor)), ("Password", Cast.Password)]);
            return person;
        }

        public ValueTask DisposeAsync() => Portal.DisposeAsync();
    }

    /// <summary>Makes a part through its form; the answer is the page of revision A.</summary>
    private static async Task<string> PartAsync(Person engineer, string number, bool welded = false, string general = "ISO 2768-mK")
    {
        await engineer.GetAsync("/parts/new");
        var page = await engineer.SubmitAsync(
            "main form", [("Number", number), ("Name", "Engine cradle"), ("Welded", welded ? "true" : "false"), ("GeneralTolerance", general)]);
        Assert.Equal(HttpStatusCode.OK, page.Status);
        Assert.StartsWith("/revisions/", page.Address.AbsolutePath, StringComparison.Ordinal);
        return page.Address.AbsolutePath;
    }

    private static async Task<Page> TypeAsync(Person engineer, string revision, params (string Field, string Value)[] fields)
    {
        await engineer.GetAsync(revision + "/characteristics");
        return await engineer.SubmitAsync("main form[data-grid]", fields);
    }

    [Fact]
    public async Task An_engineer_makes_a_part_types_its_characteristics_adds_files_and_releases_it()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-110", welded: true, general: "ISO 13920-BF");

        var typed = await TypeAsync(
            mara, revision,
            ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "812"), ("Rows[0].Stages", "tack, weld"), ("Rows[0].Class", "crit"),
            ("Rows[1].Balloon", "12"), ("Rows[1].Requirement", "10x Ø13.5 +0.27/0"), ("Rows[1].Stages", "\""));
        Assert.Contains("2 characteristics are saved", typed.Text, StringComparison.Ordinal);
        var filed = await mara.SubmitAsync(
            "form[enctype]", [], new Upload("files", "RH-110 A.pdf", Pdf), new Upload("files", "RH-110.step", Step));
        Assert.Contains("2 files are added", filed.Text, StringComparison.Ordinal);
        var released = await mara.SubmitAsync($"form[action='{revision}/release']");

        Assert.Contains("Revision A is released and does not change", released.Text, StringComparison.Ordinal);
        Assert.Contains("10× Ø13.5 +0.27/0", released.Text, StringComparison.Ordinal);
        Assert.Contains("ISO 13920-BF", released.Text, StringComparison.Ordinal);
        Assert.Empty(released.Document.QuerySelectorAll("form[enctype], form[action$=release]"));
        var drawing = await mara.Client.GetAsync(new Uri(released.Document.QuerySelector("a[href*='/files/revision/']")!.GetAttribute("href")!, UriKind.Relative), Now);
        Assert.Equal("application/pdf", drawing.Content.Headers.ContentType!.MediaType);
        Assert.Equal(Pdf, await drawing.Content.ReadAsByteArrayAsync(Now));
        Assert.Equal(HttpStatusCode.OK, (await mara.GetAsync("/parts?find=rh-110")).Status);
        Assert.Contains("RH-110", mara.Page.Text, StringComparison.Ordinal);
    }

    private static CancellationToken Now => TestContext.Current.CancellationToken;

    [Fact]
    public async Task What_is_wrong_stands_beside_its_row_and_what_was_typed_stays()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-111");

        var page = await TypeAsync(
            mara, revision,
            ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "12 ±0.1"), ("Rows[0].Stages", "tack"),
            ("Rows[2].Balloon", "<b>2"), ("Rows[2].Requirement", "12 ±"), ("Rows[2].Stages", "tack"));

        Assert.Equal(HttpStatusCode.UnprocessableEntity, page.Status);
        Assert.Contains("One row needs a change", page.Text, StringComparison.Ordinal);
        Assert.Equal("true", page.Find("[name='Rows[2].Requirement']").GetAttribute("aria-invalid"));
        Assert.Equal("12 ±0.1", page.Find("[name='Rows[0].Requirement']").GetAttribute("value"));
        Assert.Equal("<b>2", page.Find("[name='Rows[2].Balloon']").GetAttribute("value"));
        Assert.Contains("Balloon", page.Find("#wrong-2").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task More_rows_come_without_losing_what_is_typed_and_without_saving()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-112");
        await mara.GetAsync(revision + "/characteristics");
        Assert.Equal(10, mara.Page.Document.QuerySelectorAll("tbody tr").Length);

        var page = await mara.SubmitAsync("button[name=more]", [("Rows[9].Requirement", "not ready")]);

        Assert.Equal(20, page.Document.QuerySelectorAll("tbody tr").Length);
        Assert.Equal("not ready", page.Find("[name='Rows[9].Requirement']").GetAttribute("value"));
    }

    [Fact]
    public async Task Who_types_while_another_releases_keeps_the_table_to_copy()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        using var again = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-197");
        await TypeAsync(mara, revision, ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "12 ±0.1"), ("Rows[0].Stages", "tack"));
        await again.GetAsync(revision + "/characteristics");
        await mara.SubmitAsync("form[enctype]", [], new Upload("files", "RH-197 A.pdf", Pdf));
        await mara.SubmitAsync($"form[action='{revision}/release']");

        var late = await again.SubmitAsync("main form[data-grid]", [("Rows[1].Balloon", "7"), ("Rows[1].Requirement", "7 ±0.7"), ("Rows[1].Stages", "cut")]);

        Assert.Equal(HttpStatusCode.UnprocessableEntity, late.Status);
        Assert.Contains("Mara Quill released this revision while you were typing: nothing is saved", late.Text, StringComparison.Ordinal);
        Assert.Equal("7 ±0.7", late.Find("[name='Rows[1].Requirement']").GetAttribute("value"));
        Assert.DoesNotContain("Save the table", late.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Two_people_at_one_table_and_the_second_is_told_who_was_first()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        using var again = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-113");
        await again.GetAsync(revision + "/characteristics");
        await TypeAsync(mara, revision, ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "12 ±0.1"), ("Rows[0].Stages", "tack"));

        (string, string)[] mine = [("Rows[0].Balloon", "7"), ("Rows[0].Requirement", "7 ±0.7"), ("Rows[0].Stages", "cut")];
        var stale = await again.SubmitAsync("main form[data-grid]", mine);

        Assert.Equal(HttpStatusCode.UnprocessableEntity, stale.Status);
        Assert.Contains("Mara Quill changed this revision while you were typing", stale.Text, StringComparison.Ordinal);
        Assert.Equal("7 ±0.7", stale.Find("[name='Rows[0].Requirement']").GetAttribute("value"));
        var saved = await again.SubmitAsync("main form[data-grid]");
        Assert.Contains("One characteristic is saved", saved.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_table_from_a_spreadsheet_is_looked_at_and_then_taken()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-130");
        await TypeAsync(mara, revision, ("Rows[0].Balloon", "9"), ("Rows[0].Requirement", "9 ±0.1"), ("Rows[0].Stages", "tack"));
        await mara.GetAsync(revision + "/characteristics/import");

        var preview = await mara.SubmitAsync(
            "main form", [("pasted", "balloon\trequirement\tclass\tstages\n1\t812 ±2\tcritical\ttack\n2\t4× Ø13.5 +0.27/0\tmajor\tas welded\n")]);
        Assert.Contains("All 2 rows were understood; nothing is saved yet", preview.Text, StringComparison.Ordinal);
        Assert.Contains("2 new, 0 changed, 0 the same; 1 others stay", preview.Text, StringComparison.Ordinal);
        var taken = await mara.SubmitAsync("form[action$=characteristics]");

        Assert.Contains("3 characteristics are saved", taken.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_table_with_problems_names_row_and_field_and_is_put_right_in_the_table()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-131");
        await mara.GetAsync(revision + "/characteristics/import");

        var csv = "Balloon;Requirement;Stages\n1;812 ±2;tack\n2;12,5 ±;tack\n"u8.ToArray();
        var preview = await mara.SubmitAsync("main form", [], new Upload("file", "characteristics.csv", csv, "text/csv"));

        Assert.Contains("1 of 2 rows could be read; nothing is saved yet", preview.Text, StringComparison.Ordinal);
        var problem = preview.Find("td[data-label=Row]").ParentElement!.TextContent;
        Assert.Contains("3", problem, StringComparison.Ordinal);
        Assert.Contains("requirement", problem, StringComparison.Ordinal);
        var table = await mara.SubmitAsync("button[name=look]");
        Assert.StartsWith("Requirement: ", table.Find("tr.why #wrong-1").TextContent.Trim(), StringComparison.Ordinal);
        var saved = await mara.SubmitAsync("main form[data-grid]", [("Rows[1].Requirement", "12,5 ±0,2")]);
        Assert.Equal("812 ±2", table.Find("[name='Rows[0].Requirement']").GetAttribute("value"));
        Assert.Contains("2 characteristics are saved", saved.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_file_that_holds_no_table_and_no_file_at_all_say_what_to_do()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-132");
        await mara.GetAsync(revision + "/characteristics/import");

        var refused = await mara.SubmitAsync("main form", [], new Upload("file", "table.csv", Pdf));
        Assert.Contains("Nothing could be read", refused.Text, StringComparison.Ordinal);
        await mara.GetAsync(revision + "/characteristics/import");

        var nothing = await mara.SubmitAsync("main form");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, nothing.Status);
        Assert.Contains("Choose a file, or paste the table", nothing.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_welded_part_without_general_tolerance_asks_first()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-114", welded: true, general: "");
        await TypeAsync(mara, revision, ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "12 ±0.1"), ("Rows[0].Stages", "tack"));

        var asked = await mara.SubmitAsync("form[action$=release]");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, asked.Status);
        Assert.Contains("no general tolerance", asked.Text, StringComparison.Ordinal);
        var released = await mara.SubmitAsync("form[action$=release]", [("WithoutGeneralTolerance", "true")]);

        Assert.Contains("is released and does not change", released.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_file_that_is_no_drawing_is_refused_whatever_it_calls_itself()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-115");

        var page = await mara.SubmitAsync(
            "form[enctype]", [], new Upload("files", "good.pdf", Pdf), new Upload("files", "bad.pdf", "<script>alert(1)</script>"u8.ToArray()));

        Assert.Equal(HttpStatusCode.UnprocessableEntity, page.Status);
        Assert.Contains("bad.pdf", page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("good.pdf", (await mara.GetAsync(revision)).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_file_is_taken_out_while_the_revision_is_a_draft()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        await PartAsync(mara, "RH-116");
        await mara.SubmitAsync("form[enctype]", [("purpose", "mask map")], new Upload("files", "mask.pdf", Pdf));
        Assert.Contains("mask map", mara.Page.Find("main table td").ParentElement!.TextContent, StringComparison.Ordinal);

        var page = await mara.SubmitAsync("form[action$=remove]");

        Assert.Contains("mask.pdf is taken out", page.Text, StringComparison.Ordinal);
        Assert.Empty(page.Document.QuerySelectorAll("a[href*='/files/revision/']"));
    }

    [Fact]
    public async Task The_next_revision_is_begun_from_the_page_of_the_released_one()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-117");
        await TypeAsync(mara, revision, ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "12 ±0.1"), ("Rows[0].Stages", "tack"));
        await mara.SubmitAsync("form[action$=release]");
        await mara.GetAsync(mara.Page.Find("a[href$='/revisions/new']").GetAttribute("href")!);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await mara.SubmitAsync("main form", [("Note", " ")])).Status);

        var page = await mara.SubmitAsync("main form", [("Note", "Hole pattern turned")]);

        Assert.Contains("Revision B begins as a copy", page.Text, StringComparison.Ordinal);
        Assert.Contains("Hole pattern turned", page.Text, StringComparison.Ordinal);
        Assert.Contains("12 ±0.1", page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_title_block_is_changed_on_its_own_page()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-118", general: "");
        await mara.GetAsync(revision + "/edit");
        var wrong = await mara.SubmitAsync("main form", [("GeneralTolerance", "coarse")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, wrong.Status);
        Assert.Equal("coarse", wrong.Find("[name=GeneralTolerance]").GetAttribute("value"));

        var saved = await mara.SubmitAsync("main form", [("GeneralTolerance", "ISO 2768-1 c")]);

        Assert.Contains("ISO 2768-c", saved.Text, StringComparison.Ordinal);
    }

    // 300 mm is 11.811 in; 0.03 in is the zone as it was written.
    [Fact]
    public async Task A_pattern_of_an_inch_drawing_shows_its_holes_where_they_were_written()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        await mara.GetAsync("/parts/new");
        var revision = (await mara.SubmitAsync("main form", [("Number", "RH-129"), ("Name", "Deck"), ("Welded", "false"), ("Unit", "in"), ("GeneralTolerance", "")])).Address.AbsolutePath;
        await TypeAsync(
            mara, revision,
            ("Rows[0].Balloon", "1"), ("Rows[0].Requirement", "2x Ø0.562 +0.01/0"), ("Rows[0].Stages", "tack"), ("Rows[0].Locates", "deck/1-2 diameter, fastener 0.5"),
            ("Rows[1].Balloon", "2"), ("Rows[1].Requirement", "2x ⌖ Ø0.03"), ("Rows[1].Stages", "tack"), ("Rows[1].Locates", "deck/1-2 position, x 0+300 mm, y 11.811"));
        var page = await mara.GetAsync(revision);
        var pattern = page.Document.QuerySelectorAll("section.part").Single(section => section.QuerySelector("h2")?.TextContent == "Hole pattern deck");
        Assert.Equal(["Hole", "x, in", "y, in"], pattern.QuerySelectorAll("thead th").Select(cell => cell.TextContent));
        Assert.Equal(["1 0 11.811", "2 11.811 11.811"], pattern.QuerySelectorAll("tbody tr").Select(row => string.Join(' ', row.Children.Select(cell => cell.TextContent))));
        Assert.Contains("within Ø0.03 in", pattern.TextContent, StringComparison.Ordinal);
        Assert.Contains("0.5 in", pattern.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Others_find_nothing_or_may_not()
    {
        using var mara = await world.AsAsync(world.Cast.Engineer);
        var revision = await PartAsync(mara, "RH-119");
        await mara.SubmitAsync("form[enctype]", [], new Upload("files", "RH-119.pdf", Pdf));
        var file = mara.Page.Find("a[href*='/files/revision/']").GetAttribute("href")!;
        using var other = await world.AsAsync(world.Cast.OtherEngineer);
        using var shop = await world.AsAsync(world.Cast.Fabricator);
        using var stranger = await world.Portal.StrangerAsync();

        foreach (var path in new[] { revision, file, revision + "/edit", revision + "/characteristics" })
        {
            Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(path)).Status);
            Assert.Equal("/sign-in", (await stranger.GetAsync(path)).Address.AbsolutePath);
        }

        Assert.Equal(HttpStatusCode.NotFound, (await shop.GetAsync(revision)).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await shop.GetAsync(file)).Status);
        Assert.NotEqual(HttpStatusCode.OK, (await shop.GetAsync(revision + "/characteristics")).Status);
        Assert.NotEqual(HttpStatusCode.OK, (await shop.GetAsync("/parts/new")).Status);
        Assert.Equal(HttpStatusCode.OK, (await shop.GetAsync("/parts")).Status);
        Assert.Contains("Drawings appear here when a build shop gives you a work order", shop.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_build_is_named_and_listed()
    {
        using var odo = await world.AsAsync(world.Cast.Buyer);
        await odo.GetAsync("/builds/new");
        Assert.Contains("Give the build a number", (await odo.SubmitAsync("main form", [("Name", "Reed harvester")])).Text, StringComparison.Ordinal);

        var page = await odo.SubmitAsync("main form", [("Number", "RH-02")]);

        Assert.Equal("/builds", page.Address.AbsolutePath);
        Assert.Contains("RH-02", page.Text, StringComparison.Ordinal);
        Assert.Contains("Reed harvester", page.Text, StringComparison.Ordinal);
    }
}
