using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Time.Testing;

namespace FabLink.Testing;

/// <summary>What one portal under test is given.</summary>
/// <param name="Clock">A clock that the test moves; the system's when null.</param>
/// <param name="Mail">Where the portal delivers its mail; the portal's own default when null.</param>
/// <param name="Settings">Further configuration, e.g. <c>Calculations:Anonymous</c> = <c>true</c>.</param>
/// <param name="Services">Last word on the services.</param>
public sealed record PortalOptions(
    FakeTimeProvider? Clock = null,
    TestMail? Mail = null,
    IReadOnlyDictionary<string, string>? Settings = null,
    Action<IServiceCollection>? Services = null);

/// <summary>
/// The portal itself on a real port of 127.0.0.1, over a database and a data folder of its own. Usual in tests:
/// <code>public sealed class BoardTests(PortalUnderTest portal) : IClassFixture&lt;PortalUnderTest&gt;</code>
/// xunit starts it once per class and takes it down after the last test.
/// </summary>
public sealed class PortalUnderTest : WebApplicationFactory<Program>
{
    private readonly PortalOptions options;
    private readonly Lazy<Task> started;
    private readonly string dataFolder = Directory.CreateTempSubdirectory("fablink-portal-").FullName;
    private readonly WarningsKept warnings = new();
    private TestDatabase? database;
    private Uri? address;

    public PortalUnderTest()
        : this(new PortalOptions())
    {
    }

    private PortalUnderTest(PortalOptions options)
    {
        this.options = options;
        started = new(StartOnceAsync);
        UseKestrel(0);
    }

    /// <summary>A clone of the migrated template, this portal's alone.</summary>
    public TestDatabase Database => database ?? throw NotStarted();

    public string DataFolder => dataFolder;

    /// <summary>What the portal warned of so far, oldest first: for a test that failed and has to say why.</summary>
    public IReadOnlyList<string> Warnings => warnings.Lines;

    /// <summary><c>http://127.0.0.1:port/</c></summary>
    public Uri Address => address ?? throw NotStarted();

    /// <summary>A portal with options of its own, started.</summary>
    public static async Task<PortalUnderTest> StartAsync(PortalOptions options)
    {
        var portal = new PortalUnderTest(options);
        await portal.StartedAsync();
        return portal;
    }

    /// <summary>Starts it when it does not run yet. Every helper here calls it by itself.</summary>
    public Task StartedAsync() => started.Value;

    /// <summary>Somebody who is not signed in: cookies of their own.</summary>
    public async Task<Person> StrangerAsync()
    {
        await StartedAsync();
        return new Person(Address);
    }

    /// <summary>Somebody who signed in on the sign-in page with address and password.</summary>
    public async Task<Person> SignInAsync(string email, string password)
    {
        var person = await StrangerAsync();
        await person.SignInAsync(email, password);
        return person;
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        builder.UseEnvironment("Testing");
        builder.UseContentRoot(Repository.PathTo("src", "FabLink.Portal"));
        builder.UseSetting("ConnectionStrings:FabLink", Database.OwnerConnectionString);
        builder.UseSetting("Data:Folder", dataFolder);
        if (options.Mail is { } mail)
        {
            builder.UseSetting("Mail:Host", "127.0.0.1");
            builder.UseSetting("Mail:Port", mail.Port.ToString());
            builder.UseSetting("Mail:Security", "None");
            builder.UseSetting("Mail:From", "portal@saltmarsh.example");
        }

        foreach (var (key, value) in options.Settings ?? new Dictionary<string, string>()) builder.UseSetting(key, value);
        builder.ConfigureTestServices(services =>
        {
            services.AddSingleton<ILoggerProvider>(warnings);
            if (options.Clock is { } clock) services.AddSingleton<TimeProvider>(clock);
            options.Services?.Invoke(services);
        });
    }

    public override async ValueTask DisposeAsync()
    {
        await base.DisposeAsync();
        warnings.Dispose();
        if (database is not null) await database.DisposeAsync();
        database = null;
        if (Directory.Exists(dataFolder)) Directory.Delete(dataFolder, recursive: true);
    }

    private async Task StartOnceAsync()
    {
        database = await (await TestCluster.SharedAsync()).CloneAsync();
        // StartServer blocks until the portal runs; keep it off the test's own thread.
        await Task.Run(StartServer);
        address = new Uri(ClientOptions.BaseAddress.GetLeftPart(UriPartial.Authority).Replace("localhost", "127.0.0.1", StringComparison.Ordinal) + "/");
    }

    private static InvalidOperationException NotStarted() => new("The portal is not started yet: await StartedAsync() first.");
}
