using Dapper;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.Time.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>
/// A build shop with two fabricators and a coater, two released parts and a build: what every test of orders, pieces and steps
/// stands on. Everybody's password is <see cref="Password"/>.
/// </summary>
public sealed class Scene : IAsyncLifetime
{
    public const string Password = "reed bed at low tide";

    private static readonly string _hash = new PasswordHasher<object>().HashPassword(new object(), Password);
    private readonly string? _given;
    private TestDatabase? _own;
    private DataSources? _sources;
    private string _owner = "";

    public Scene()
    {
    }

    private Scene(string ownerConnectionString) => _given = ownerConnectionString;

    /// <summary>The same people and parts in the database of a portal under test.</summary>
    public static async Task<Scene> InAsync(string ownerConnectionString)
    {
        var scene = new Scene(ownerConnectionString);
        await scene.InitializeAsync();
        return scene;
    }

    public FakeTimeProvider Clock { get; } = new(new DateTimeOffset(2026, 11, 23, 8, 0, 0, TimeSpan.Zero));

    public DateOnly Today => DateOnly.FromDateTime(Clock.GetUtcNow().UtcDateTime);

    public Guid Saltmarsh { get; } = Guid.CreateVersion7();

    public Guid HolmLane { get; } = Guid.CreateVersion7();

    public Guid Dunlin { get; } = Guid.CreateVersion7();

    public Guid Teal { get; } = Guid.CreateVersion7();

    public Actor Mara { get; private set; } = null!;

    public Actor Ned { get; private set; } = null!;

    public Actor Ida { get; private set; } = null!;

    public Actor Tom { get; private set; } = null!;

    public Actor Wren { get; private set; } = null!;

    public Guid Build { get; } = Guid.CreateVersion7();

    public Guid Cradle { get; } = Guid.CreateVersion7();

    public Guid CradleA { get; } = Guid.CreateVersion7();

    public Guid CradleBUnreleased { get; } = Guid.CreateVersion7();

    public Guid CradleBore { get; } = Guid.CreateVersion7();

    public Guid Bracket { get; } = Guid.CreateVersion7();

    public Guid BracketA { get; } = Guid.CreateVersion7();

    public Database Database { get; private set; } = null!;

    public string OwnerConnectionString => _owner;

    public DataSources Sources => _sources!;

    public async ValueTask InitializeAsync()
    {
        if (_given is null)
            _own = await (await TestCluster.SharedAsync()).CloneAsync();
        _owner = _given ?? _own!.OwnerConnectionString;
        _sources = new DataSources(_owner);
        Database = new Database(_sources);
        await Story.BeginAsync(_owner, TestContext.Current.CancellationToken);
        await using var owner = await OwnerAsync();
        foreach (var (id, name, kind) in new[] { (Saltmarsh, "Saltmarsh Works", "build shop"), (HolmLane, "Holm Lane Fabrication", "fabricator"), (Dunlin, "Dunlin Profile & Weld", "fabricator"), (Teal, "Teal Coatings", "coater") })
            await owner.ExecuteAsync("insert into organisation (id, name, kind, created_at) values (@id, @name, @kind, now())", new { id, name, kind });
        await owner.ExecuteAsync("insert into supplier select @Saltmarsh, unnest(@Shops)", new { Saltmarsh, Shops = new[] { HolmLane, Dunlin, Teal } });
        Mara = await PersonAsync(owner, "Mara Quill", "mara@saltmarsh.example", Saltmarsh, "Saltmarsh Works", "build shop", Roles.Engineer);
        Ned = await PersonAsync(owner, "Ned Carr", "ned@saltmarsh.example", Saltmarsh, "Saltmarsh Works", "build shop", Roles.Buyer);
        Ida = await PersonAsync(owner, "Ida Holm", "ida@holmlane.example", HolmLane, "Holm Lane Fabrication", "fabricator", Roles.Fabricator);
        Tom = await PersonAsync(owner, "Tom Reed", "tom@dunlin.example", Dunlin, "Dunlin Profile & Weld", "fabricator", Roles.Fabricator);
        Wren = await PersonAsync(owner, "Wren Teal", "wren@teal.example", Teal, "Teal Coatings", "coater", Roles.Coater);
        await owner.ExecuteAsync("insert into build values (@Build, @Saltmarsh, 'RH-02', 'Reed harvester', now(), @Person)", new { Build, Saltmarsh, Person = Mara.PersonId });
        await PartAsync(owner, Cradle, CradleA, "RH-110", "engine cradle");
        await PartAsync(owner, Bracket, BracketA, "RH-140", "pontoon bracket");
        const string Next = """
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by)
            select @CradleBUnreleased, owner_id, drawing_id, part_id, 'B', true, now(), created_by from revision where id = @CradleA
            """;
        await owner.ExecuteAsync(Next, new { CradleBUnreleased, CradleA });
    }

    public async ValueTask DisposeAsync()
    {
        if (_sources is not null)
            await _sources.DisposeAsync();
        if (_own is not null)
            await _own.DisposeAsync();
    }

    /// <summary>The superuser, past every policy.</summary>
    public async Task<NpgsqlConnection> OwnerAsync()
    {
        var connection = new NpgsqlConnection(_owner);
        await connection.OpenAsync();
        return connection;
    }

    public async Task<T?> AskAsync<T>(string sql, object? args = null)
    {
        await using var owner = await OwnerAsync();
        return await owner.ExecuteScalarAsync<T>(sql, args);
    }

    /// <summary>Runs a statement as the app's own role with the actor's context, past every handler.</summary>
    public async Task<int> AsAppAsync(Actor actor, string sql, object? args = null)
    {
        await using var work = await Database.BeginAsync(actor, TestContext.Current.CancellationToken);
        var rows = await work.ExecuteAsync(sql, args);
        await work.CommitAsync();
        return rows;
    }

    public PlannedLine Line(Guid? revision = null, int quantity = 1, DateOnly? need = null, IReadOnlyList<PlannedStep>? route = null) =>
        new(revision ?? CradleA, Build, quantity, need ?? Today.AddDays(14), null, route ?? PlannedStep.UsualRoute(Saltmarsh, Teal));

    public async Task<Guid> DraftAsync(params PlannedLine[] lines)
    {
        var outcome = await new CreateWorkOrder.Handler(Database, Clock).HandleAsync(
            Ned, new CreateWorkOrder.Request(HolmLane, "PO 4711", null, lines.Length == 0 ? [Line()] : lines), TestContext.Current.CancellationToken);
        return Assert.IsType<CreateWorkOrder.Outcome.Created>(outcome).Id;
    }

    public async Task<Guid> IssuedAsync(params PlannedLine[] lines)
    {
        var id = await DraftAsync(lines);
        var outcome = await new IssueWorkOrder.Handler(Database, Clock).HandleAsync(Ned, new(id, 1), TestContext.Current.CancellationToken);
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(outcome);
        return id;
    }

    public async Task<Guid> AcceptedAsync(params PlannedLine[] lines)
    {
        var id = await IssuedAsync(lines);
        var outcome = await new AcceptWorkOrder.Handler(Database, Clock).HandleAsync(Ida, new(id), TestContext.Current.CancellationToken);
        Assert.IsType<OrderAnswer.Given>(outcome);
        return id;
    }

    public async Task<IReadOnlyList<Guid>> PiecesAsync(Guid order)
    {
        await using var owner = await OwnerAsync();
        return (await owner.QueryAsync<Guid>("select id from piece where work_order_id = @order order by serial", new { order })).AsList();
    }

    /// <summary>The step of this kind of every piece of the order.</summary>
    public async Task<Guid[]> StepsAsync(Guid order, string kind)
    {
        const string Sql = """
            select s.id from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id
            where s.work_order_id = @order and r.kind = @kind order by p.serial
            """;
        await using var owner = await OwnerAsync();
        return [.. await owner.QueryAsync<Guid>(Sql, new { order, kind })];
    }

    public Task<StartStep.Outcome> StartAsync(Actor actor, params Guid[] steps) =>
        new StartStep.Handler(Database, Clock).HandleAsync(actor, new(steps), TestContext.Current.CancellationToken);

    public Task<FinishStep.Outcome> FinishAsync(Actor actor, params Guid[] steps) =>
        new FinishStep.Handler(Database, Clock).HandleAsync(actor, new(steps), TestContext.Current.CancellationToken);

    /// <summary>Starts and finishes the step of this kind of every piece; both must succeed.</summary>
    public async Task DoAsync(Actor actor, Guid order, string kind)
    {
        var steps = await StepsAsync(order, kind);
        Assert.IsType<StartStep.Outcome.Started>(await StartAsync(actor, steps));
        Assert.IsType<FinishStep.Outcome.Finished>(await FinishAsync(actor, steps));
    }

    /// <summary>A report with this verdict, written past the handlers, with its value of the bore or with none; opens nothing by itself.</summary>
    public async Task<Guid> ReportAsync(Guid piece, string stage, string verdict, bool ofBore = false)
    {
        var id = Guid.CreateVersion7();
        const string Sql = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by,
                                verdict, value_count, failed_count, unproven_count)
            select @id, p.owner_id, p.work_order_id, p.id, p.revision_id, @HolmLane, @stage, 'typed', @id, @Now, @Person, @verdict, 1, 0, 0
            from piece p where p.id = @piece;
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, verdict)
            select @id, p.work_order_id, c.id, 1, 25, 'mm', '25', @verdict from piece p join characteristic c on c.revision_id = p.revision_id where p.id = @piece and @ofBore
            """;
        await using var owner = await OwnerAsync();
        await owner.ExecuteAsync(Sql, new { id, piece, stage, verdict, ofBore, HolmLane, Now = Clock.GetUtcNow(), Person = Ida.PersonId });
        return id;
    }

    private static async Task<Actor> PersonAsync(NpgsqlConnection owner, string name, string email, Guid organisation, string organisationName, string kind, Roles role)
    {
        var id = Guid.CreateVersion7();
        var roles = new[] { role.ToString().ToLowerInvariant() };
        await owner.ExecuteAsync("insert into person (id, organisation_id, name, roles, created_at) values (@id, @organisation, @name, @roles, now())", new { id, organisation, name, roles });
        await owner.ExecuteAsync(
            "insert into credential (person_id, organisation_id, email, password_hash, security_stamp) values (@id, @organisation, @email, @_hash, 'stamp')",
            new { id, organisation, email, _hash });
        return new Actor(id, organisation, name, organisationName, kind, role);
    }

    private async Task PartAsync(NpgsqlConnection owner, Guid part, Guid revision, string number, string name)
    {
        const string Sql = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, @name, now(), @Person);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, @name, now(), @Person);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @Person);
            insert into characteristic (id, owner_id, revision_id, balloon, kind, name, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, rule)
            values (@bore, @Saltmarsh, @revision, 1, 'diameter', 'bore', '25 ±0.1', 'mm', 25, 24.9, 25.1, 'stated', 'critical', '{tack,after coat}', 'before coating', 'simple');
            update revision set released_at = now(), released_by = @Person where id = @revision
            """;
        var bore = part == Cradle ? CradleBore : Guid.CreateVersion7();
        await owner.ExecuteAsync(Sql, new { part, revision, number, name, bore, drawing = Guid.CreateVersion7(), Saltmarsh, Person = Mara.PersonId });
    }
}
