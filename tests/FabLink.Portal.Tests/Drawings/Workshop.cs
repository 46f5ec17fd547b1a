using Dapper;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using FluentValidation;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.Drawings;

/// <summary>A build shop with an engineer and a buyer, two fabricators and a coater, on a database of their own; handlers without the web.</summary>
public sealed class Workshop : IAsyncLifetime
{
    private TestDatabase? database;
    private ServiceProvider? services;
    private Cast cast = null!;

    public FakeTimeProvider Clock { get; } = new(new DateTimeOffset(2026, 11, 24, 9, 40, 0, TimeSpan.Zero));

    public Actor Engineer => cast.Engineer;

    public Actor Buyer => cast.Buyer;

    public Actor Fabricator => cast.Fabricator;

    public Actor Rival => cast.Rival;

    public Actor Coater => cast.Coater;

    public Actor OtherEngineer => cast.OtherEngineer;

    public T Get<T>()
        where T : notnull => services!.CreateScope().ServiceProvider.GetRequiredService<T>();

    public async ValueTask InitializeAsync()
    {
        database = await (await TestCluster.SharedAsync()).CloneAsync();
        await Migrator.MigrateAsync(database.OwnerConnectionString, CancellationToken.None);
        var collection = new ServiceCollection();
        collection.AddSingleton<TimeProvider>(Clock);
        collection.AddSingleton(_ => new DataSources(database.OwnerConnectionString));
        collection.AddSingleton<Database>();
        foreach (var handler in typeof(CreatePart).Assembly.GetTypes().Where(type => type is { IsNested: true, IsAbstract: false, Name: "Handler" }))
            collection.AddScoped(handler);
        collection.AddValidatorsFromAssemblyContaining<Program>();
        services = collection.BuildServiceProvider();
        await FabLink.Portal.Features.Demo.Story.BeginAsync(database.OwnerConnectionString, CancellationToken.None);
        cast = await Cast.SeedAsync(database.OwnerConnectionString);
    }

    public async ValueTask DisposeAsync()
    {
        if (services is not null)
            await services.DisposeAsync();
        if (database is not null)
            await database.DisposeAsync();
    }

    /// <summary>Past every policy, as the owner of the tables.</summary>
    public async Task<T> AskAsync<T>(string sql, object? args = null)
    {
        await using var connection = new NpgsqlConnection(database!.OwnerConnectionString);
        return (await connection.ExecuteScalarAsync<T>(sql, args))!;
    }

    public async Task DoAsync(string sql, object? args = null)
    {
        await using var connection = new NpgsqlConnection(database!.OwnerConnectionString);
        await connection.ExecuteAsync(sql, args);
    }

    /// <summary>A part of its own number with a drawing, revision A and these characteristics.</summary>
    public async Task<CreatePart.Outcome.Created> PartAsync(string number, bool welded = false, string? general = "ISO 2768-mK", params IReadOnlyList<CharacteristicEntry> rows)
    {
        var created = Assert.IsType<CreatePart.Outcome.Created>(await Get<CreatePart.Handler>().HandleAsync(
            Engineer, new CreatePart.Request(number, "Engine cradle", Welded: welded, GeneralTolerance: general), CancellationToken.None));
        if (rows.Count > 0)
        {
            Assert.IsType<EditCharacteristics.Outcome.Saved>(await Get<EditCharacteristics.Handler>().HandleAsync(
                Engineer, new EditCharacteristics.Request(created.RevisionId, 1, rows), CancellationToken.None));
        }

        return created;
    }

    /// <summary>An issued work order for one piece: cut, weld at the fabricator, coat at the coater; cutting has begun.</summary>
    public async Task<Guid> OrderAsync(Guid revision, Actor maker, string serial)
    {
        var ids = new
        {
            Order = Guid.CreateVersion7(),
            Line = Guid.CreateVersion7(),
            Build = Guid.CreateVersion7(),
            Piece = Guid.CreateVersion7(),
            Cut = Guid.CreateVersion7(),
            Coat = Guid.CreateVersion7(),
            revision,
            serial,
            Owner = Engineer.OrganisationId,
            Shop = maker.OrganisationId,
            Coater = Coater.OrganisationId,
            By = Engineer.PersonId,
            Maker = maker.PersonId,
        };
        await DoAsync(
            """
            begin;
            select set_config('fablink.organisation', @Owner::text, true);
            insert into build (id, owner_id, number, name, created_at, created_by) values (@Build, @Owner, 'B ' || @serial, 'Reed harvester', now(), @By);
            insert into work_order (id, owner_id, shop_id, number, created_at, created_by) values (@Order, @Owner, @Shop, 'WO ' || @serial, now(), @By);
            insert into work_order_line (id, work_order_id, ordinal, revision_id, build_id, quantity, need_date) values (@Line, @Order, 1, @revision, @Build, 1, '2026-12-03');
            insert into route_step (id, line_id, work_order_id, ordinal, kind, organisation_id)
                values (@Cut, @Line, @Order, 1, 'cut', @Shop), (@Coat, @Line, @Order, 2, 'powder coat', @Coater);
            update work_order set issued_at = now(), issued_by = @By, accepted_at = now(), accepted_by = @Maker where id = @Order;
            insert into piece (id, owner_id, work_order_id, line_id, part_id, revision_id, serial, created_at)
                select @Piece, @Owner, @Order, @Line, part_id, id, @serial, now() from revision where id = @revision;
            insert into piece_step (id, owner_id, work_order_id, line_id, piece_id, route_step_id, ordinal, organisation_id)
                values (gen_random_uuid(), @Owner, @Order, @Line, @Piece, @Cut, 1, @Shop), (gen_random_uuid(), @Owner, @Order, @Line, @Piece, @Coat, 2, @Coater);
            update piece_step set started_at = now(), started_by = @Maker where piece_id = @Piece and ordinal = 1;
            select share_work_order(@Order);
            commit;
            """,
            ids);
        return ids.Order;
    }
}
