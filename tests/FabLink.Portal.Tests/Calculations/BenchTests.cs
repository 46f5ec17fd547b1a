using System.Net;
using System.Text;
using System.Text.Json;
using FabLink.Portal.Features.Bench;
using FabLink.Portal.Features.Calculations;
using FabLink.Testing;

namespace FabLink.Portal.Tests.Calculations;

public sealed class BenchTests(OpenPortal portal) : IClassFixture<OpenPortal>
{
    private const string Ida = "ida@holmlane.example";

    public static TheoryData<string> Names => [.. BenchEntry.All.Select(entry => entry.Name)];

    [Theory]
    [MemberData(nameof(Names))]
    public async Task Every_page_of_the_bench_answers_what_stands_in_its_boxes(string name)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/" + name);
        Assert.Equal(HttpStatusCode.OK, ida.Page.Status);
        await ida.SubmitAsync("form.form");
        Assert.Equal(HttpStatusCode.OK, ida.Page.Status);
        Assert.Contains("Where this comes from", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("This is calculation, not approval", ida.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_index_leads_to_every_page()
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench");
        foreach (var entry in BenchEntry.All)
            Assert.Contains(entry.Summary, ida.Page.Find($"a[href='/bench/{entry.Name}']").Closest("tr")!.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_stranger_is_led_to_the_sign_in()
    {
        using var stranger = await portal.StrangerAsync();
        await stranger.GetAsync("/bench/judge");
        Assert.Equal("/sign-in", stranger.Page.Address.AbsolutePath);
    }

    [Fact]
    public async Task A_value_on_its_limit_conforms_and_one_beyond_does_not()
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/judge?Requirement=12+%C2%B10.1&Unit=mm&Value=12.1&Rule=simple");
        Assert.Equal("It conforms", ida.Page.Find("h1").TextContent);
        await ida.GetAsync("/bench/judge?Requirement=12+%C2%B10.1&Unit=mm&Value=12%2C1001&Rule=simple");
        Assert.Equal("It does not conform", ida.Page.Find("h1").TextContent);
        Assert.Contains("outside by 0.0001 mm", ida.Page.Text, StringComparison.Ordinal);
    }

    // 1000 mm · tan 1.5° = 26.186 mm.
    [Theory]
    [InlineData("1.5")]
    [InlineData("1,5°")]
    [InlineData("1°30'")]
    public async Task An_angle_error_is_taken_as_people_write_angles(string angle)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/bench/reach?AngleDegrees={Uri.EscapeDataString(angle)}&Offset=&Reach=1000&Unit=mm");
        Assert.Equal(HttpStatusCode.OK, ida.Page.Status);
        Assert.Contains("26.18", ida.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_cannot_be_understood_is_said_beside_its_field_and_stays_typed()
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/judge?Requirement=12+about&Unit=mm&Value=12&Rule=simple");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Contains("Character", ida.Page.Find("#Requirement-error").TextContent, StringComparison.Ordinal);
        Assert.Equal("12 about", ida.Page.Find("#Requirement").GetAttribute("value"));

        await ida.GetAsync("/bench/bolt-up");
        await ida.SubmitAsync("form.form", [("Holes", "hole\tax\tay\tad\tbx\tby\tbd\tfastener\n1\t0\t0\t13.5\t0\t0\tbig\t12")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Contains("Row 2, bd", ida.Page.Find("#Holes-error").TextContent, StringComparison.Ordinal);
        Assert.Contains("big", ida.Page.Find("#Holes").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_joint_that_fails_shows_its_picture_its_certificate_and_what_to_change()
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/bolt-up");
        await ida.SubmitAsync("form.form");
        Assert.Contains("It does not bolt up", ida.Page.Find("h1").TextContent, StringComparison.Ordinal);
        Assert.Contains("does not pass", ida.Page.Find("svg.holes").GetAttribute("aria-label"), StringComparison.Ordinal);
        Assert.Contains("Re-set upper pad on part b", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("checked:", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("\"weight\"", ida.Page.Find("details pre").TextContent, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("bolt-up")]
    [InlineData("chain")]
    [InlineData("vector-loop")]
    [InlineData("gauge-study")]
    [InlineData("feature")]
    [InlineData("judge")]
    public async Task The_question_that_is_saved_is_one_that_the_api_takes(string name)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/" + name);
        var saved = await ida.SubmitAsync("button[name=save][value=json]");
        Assert.Equal("application/json", saved.Response.Content.Headers.ContentType?.MediaType);
        Assert.Equal(name + ".json", saved.Response.Content.Headers.ContentDisposition?.FileName);
        var answer = await portal.AskAsync(name, saved.Html);
        Assert.NotEqual(JsonValueKind.Undefined, answer.GetProperty("sources").ValueKind);
    }

    [Fact]
    public async Task A_table_goes_out_as_csv_and_comes_back_as_a_file()
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/chain");
        await ida.SubmitAsync("form.form");
        var headline = ida.Page.Find("h1").TextContent;
        var csv = (await ida.SubmitAsync("button[name=save][value=csv]")).Html;
        Assert.StartsWith("link,nominal,", csv, StringComparison.Ordinal);

        await ida.GetAsync("/bench/chain");
        await ida.SubmitAsync("form.form", [("Links", "")], new Upload("File", "chain.csv", Encoding.UTF8.GetBytes(csv)));
        Assert.Equal(headline, ida.Page.Find("h1").TextContent);
        Assert.Contains("rail to pad", ida.Page.Find("#Links").TextContent, StringComparison.Ordinal);
    }

    // ASME Y14.5-2018, Appendix B: T = H − F for floating, half of it for fixed fasteners.
    [Theory]
    [InlineData("Rule=floating&Fastener=12&Hole=13.5&Tolerance=", "Ø 1.5 mm")]
    [InlineData("Rule=fixed&Fastener=12&Hole=13.5&Tolerance=", "Ø 0.75 mm")]
    [InlineData("Rule=floating&Fastener=12&Hole=&Tolerance=1.5", "Ø 13.5 mm")]
    [InlineData("Rule=fixed&Fastener=12&Hole=&Tolerance=0.75", "Ø 13.5 mm")]
    public async Task Fastener_rules_go_both_ways(string typed, string answer)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/fasteners?" + typed);
        Assert.Contains(answer, ida.Page.Find("h1").TextContent, StringComparison.Ordinal);
    }

    // Common practice: tolerance / 2U of 10 preferred, 4 the floor; class II tape 0.3 mm and 0.2 mm per started metre (2004/22/EC, MI-008); JCGM 100:2008,
    // H.1: 11.5e-6 per °C for steel, so that 1000 mm at 30 °C read 1000.115 mm with an instrument at 20 °C.
    [Theory]
    [InlineData("Requirement=640 ±0.5&Kind=tape", "Too coarse: the tolerance is 1 times 2U", "U is the default")]
    [InlineData("Requirement=640 ±4&Kind=tape", "Just fine enough: the tolerance is 8 times 2U", "0.5 mm")]
    [InlineData("Requirement=.750 ±.005&Unit=in&Kind=caliper", "Just fine enough: the tolerance is 4.2 times 2U", "0.01 in")]
    [InlineData("Requirement=30° ±2°&Kind=digital level", "Fine enough: the tolerance is 10 times 2U", "0.2 °")]
    [InlineData("Requirement=1000 ±1&Kind=portable arm&Reading=1000.115&PartTemperature=30", "Fine enough: the tolerance is 10 times 2U", "1000 mm")]
    [InlineData("Requirement=1000 ±1&Kind=tape&Reading=1000.115&PartTemperature=30&Scale=part&ExpandedUncertainty=0.1", "Fine enough", "1000.115 mm")]
    public async Task A_gauge_is_held_against_the_tolerance_and_its_reading_brought_to_20_degrees(string typed, string headline, string says)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/gauge?" + typed.Replace("±", "%C2%B1", StringComparison.Ordinal).Replace("°", "%C2%B0", StringComparison.Ordinal));
        Assert.StartsWith(headline, ida.Page.Find("h1").TextContent, StringComparison.Ordinal);
        Assert.Contains(says, ida.Page.Find("main").TextContent, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Requirement=30%C2%B0 %C2%B12%C2%B0&Kind=tape", "measures lengths")]
    [InlineData("Requirement=640 %C2%B10.5&Kind=tape&PartTemperature=30", "Type the reading")]
    [InlineData("Requirement=640 %C2%B10.5&Kind=tape&Reading=640&PartTemperature=300", "outside")]
    [InlineData("Requirement=640 %C2%B10.5&Kind=tape&Reading=640&PartTemperature=30&Material=unobtainium", "unobtainium")]
    [InlineData("Requirement=&Kind=tape", "requirement is missing")]
    public async Task A_gauge_that_cannot_be_assessed_says_what_is_wrong(string typed, string says)
    {
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync("/bench/gauge?" + typed);
        Assert.Contains(says, ida.Page.Find("main").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public void Every_calculator_has_its_page() =>
        Assert.Empty(Calculators.All.Select(calculator => calculator.Name).Except(BenchEntry.All.Select(entry => entry.Name)));
}
