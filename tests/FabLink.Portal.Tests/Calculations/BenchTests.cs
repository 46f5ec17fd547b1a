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

    [Fact]
    public void Every_calculator_has_its_page() =>
        Assert.Empty(Calculators.All.Select(calculator => calculator.Name).Except(BenchEntry.All.Select(entry => entry.Name)));
}
