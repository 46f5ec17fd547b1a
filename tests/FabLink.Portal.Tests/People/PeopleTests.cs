using System.Net;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Platform.Jobs;
using FabLink.Portal.Platform.Web;
using FabLink.Testing;
using Microsoft.Extensions.DependencyInjection;

namespace FabLink.Portal.Tests.People;

public class PeopleTests
{
    private static CancellationToken Stop => TestContext.Current.CancellationToken;

    [Fact]
    public async Task An_empty_portal_lets_its_first_person_in_by_a_mailed_link()
    {
        await using var mail = TestMail.Start();
        await using var portal = await PortalUnderTest.StartAsync(new PortalOptions(Mail: mail, Settings: new Dictionary<string, string>
        {
            ["First:Organisation"] = "Saltmarsh Works",
            ["First:Name"] = "Mara Quill",
            ["First:Email"] = "Mara@saltmarsh.example",
        }));
        using var first = await FromMailAsync(portal, mail, "mara@saltmarsh.example");

        await first.GetAsync("/people");
        Assert.Equal(HttpStatusCode.OK, first.Page.Status);
        Assert.Contains("Mara Quill", first.Page.Text, StringComparison.Ordinal);

        await first.SubmitAsync("form[action='/people/shops']", [("Shop", "Holm Lane Fabrication"), ("Kind", "fabricator"), ("Name", "Joss Harrow"), ("Email", "joss@holmlane.example")]);
        Assert.Contains("can be given work", first.Page.Text, StringComparison.Ordinal);
        using var shop = await FromMailAsync(portal, mail, "joss@holmlane.example");
        Assert.Equal(HttpStatusCode.Forbidden, (await shop.GetAsync("/board")).Status);
        Assert.Equal(HttpStatusCode.OK, (await shop.GetAsync("/orders")).Status);
    }

    [Fact]
    public async Task A_colleague_is_added_and_one_who_left_cannot_come_back()
    {
        await using var portal = new PortalUnderTest();
        await portal.StartedAsync();
        await DemoPeople.WriteAsync(portal.Database.OwnerConnectionString, DateTimeOffset.UtcNow, Stop);
        using var mara = await portal.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await mara.GetAsync("/people");
        await mara.SubmitAsync("form[action='/people']", [("Name", "Orla Reed"), ("Email", "not an address"), ("Role", "buyer")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains("not a mail address", mara.Page.Text, StringComparison.Ordinal);
        await mara.GetAsync("/people");
        await mara.SubmitAsync("form[action='/people']", [("Name", "Orla Reed"), ("Email", "edda@saltmarsh.example"), ("Role", "buyer")]);
        Assert.Contains("here already", mara.Page.Text, StringComparison.Ordinal);
        await mara.GetAsync("/people");
        await mara.SubmitAsync("form[action='/people']", [("Name", "Orla Reed"), ("Email", "orla@saltmarsh.example"), ("Role", "buyer")]);
        Assert.Contains("Orla Reed", mara.Page.Text, StringComparison.Ordinal);

        var edda = mara.Page.Document.QuerySelectorAll("tr").First(row => row.TextContent.Contains("Edda Finch", StringComparison.Ordinal)).QuerySelector("form")!.GetAttribute("action");
        await mara.SubmitAsync($"form[action='{edda}']");
        using var stranger = await portal.StrangerAsync();
        await Assert.ThrowsAsync<InvalidOperationException>(() => stranger.SignInAsync("edda@saltmarsh.example", DemoPeople.Password));
    }

    [Fact]
    public async Task An_organisation_reads_times_in_its_own_zone_and_every_sheet_says_which()
    {
        await using var portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["Time:Zone"] = "Asia/Kathmandu" }));
        await DemoPeople.WriteAsync(portal.Database.OwnerConnectionString, DateTimeOffset.UtcNow, Stop);
        using var mara = await portal.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await mara.GetAsync("/people");
        Assert.Contains("Times: UTC+5:45 (Asia/Kathmandu)", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("form[action='/people/zone']", [("Zone", "Reed Time")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        await mara.GetAsync("/people");
        await mara.SubmitAsync("form[action='/people/zone']", [("Zone", "Pacific/Honolulu")]);

        using var again = await portal.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await again.GetAsync("/people");
        Assert.Contains("Times: UTC-10 (Pacific/Honolulu)", again.Page.Text, StringComparison.Ordinal);
        using var joss = await portal.SignInAsync("joss@holmlane.example", DemoPeople.Password);
        await joss.GetAsync("/people");
        Assert.Contains("Times: UTC+5:45 (Asia/Kathmandu)", joss.Page.Text, StringComparison.Ordinal);
    }

    [Theory]
    // IANA time zone database: Lisbon UTC+0 in winter and UTC+1 in summer, Newfoundland UTC-3:30 and UTC-2:30, Nepal UTC+5:45.
    [InlineData("Europe/Lisbon", "2026-01-15T23:30:00Z", "Thu 15 Jan 23:30 UTC")]
    [InlineData("Europe/Lisbon", "2026-07-15T23:30:00Z", "Thu 16 Jul 00:30 UTC+1")]
    [InlineData("America/St_Johns", "2026-01-15T12:00:00Z", "Thu 15 Jan 08:30 UTC-3:30")]
    [InlineData("America/St_Johns", "2026-07-15T12:00:00Z", "Wed 15 Jul 09:30 UTC-2:30")]
    [InlineData("Asia/Kathmandu", "2026-07-15T12:00:00Z", "Wed 15 Jul 17:45 UTC+5:45")]
    public void A_time_is_read_in_the_zone_of_whoever_looks(string zone, string at, string read)
    {
        LocalTime.Use(LocalTime.Find(zone)!, new DateTimeOffset(2026, 8, 1, 0, 0, 0, TimeSpan.Zero));
        Assert.Equal(read, LocalTime.TimeAndZone(DateTimeOffset.Parse(at, System.Globalization.CultureInfo.InvariantCulture)));
    }

    /// <summary>Half an hour before the new year in Lisbon it is the new year in Kathmandu.</summary>
    [Theory]
    [InlineData("Europe/Lisbon", "Thu 31 Dec", "Fri 1 Jan 2027", "3 Mar")]
    [InlineData("Asia/Kathmandu", "Thu 31 Dec 2026", "Fri 1 Jan", "3 Mar 2026")]
    public void A_day_of_another_year_is_read_with_it(string zone, string last, string first, string shorter)
    {
        LocalTime.Use(LocalTime.Find(zone)!, new DateTimeOffset(2026, 12, 31, 23, 30, 0, TimeSpan.Zero));
        Assert.Equal((last, first, shorter), (LocalTime.Day(new DateOnly(2026, 12, 31)), LocalTime.Day(new DateOnly(2027, 1, 1)), LocalTime.ShortDay(new DateOnly(2026, 3, 3))));
        LocalTime.Use(LocalTime.Find(zone)!);
        Assert.Equal("Thu 31 Dec 2026 12:00", LocalTime.Time(new DateTimeOffset(2026, 12, 31, 12, 0, 0, LocalTime.Zone.GetUtcOffset(new DateTime(2026, 12, 31)))));
    }

    [Fact]
    public void A_zone_that_is_none_is_refused()
    {
        Assert.Null(LocalTime.Find("Reed Time"));
        Assert.Contains("Time:Zone", Assert.Throws<InvalidOperationException>(() => LocalTime.OfSetting("Reed Time")).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_shop_sees_its_own_people_only_and_takes_on_nobody()
    {
        await using var portal = new PortalUnderTest();
        await portal.StartedAsync();
        await DemoPeople.WriteAsync(portal.Database.OwnerConnectionString, DateTimeOffset.UtcNow, Stop);
        using var joss = await portal.SignInAsync("joss@holmlane.example", DemoPeople.Password);
        await joss.GetAsync("/people");
        Assert.Contains("Joss Harrow", joss.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Wren Tully", joss.Page.Text, StringComparison.Ordinal);
        Assert.Null(joss.Page.Document.QuerySelector("form[action='/people/shops']"));
    }

    private static async Task<Person> FromMailAsync(PortalUnderTest portal, TestMail mail, string address)
    {
        using (var scope = portal.Services.CreateScope())
            await scope.ServiceProvider.GetRequiredService<OutboxDelivery>().DeliverDueAsync(Stop);
        ArrivedMail? letter = null;
        for (var count = 1; letter is null; count++)
            letter = (await mail.WaitForAsync(count)).FirstOrDefault(one => one.Recipients.Contains(address));
        var link = letter.Text.Split('\n').Select(row => row.Trim()).Single(row => row.Contains("/sign-in/link/", StringComparison.Ordinal));
        var person = await portal.StrangerAsync();
        await person.GetAsync(new Uri(link).AbsolutePath);
        await person.SubmitAsync("form[action^='/sign-in/link/']");
        // Used up, it signs nobody in; whoever is signed in by it already goes on to where it leads.
        var led = person.Page.Address.AbsolutePath;
        await person.GetAsync(new Uri(link).AbsolutePath);
        Assert.Equal(led, person.Page.Address.AbsolutePath);
        using var another = await portal.StrangerAsync();
        await another.GetAsync(new Uri(link).AbsolutePath);
        Assert.Contains("This link is over", another.Page.Text, StringComparison.Ordinal);
        return person;
    }
}
