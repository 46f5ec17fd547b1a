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

    public FakeTimeProvider Clock { get; } = new(new DateTimeOffset(2026, 11, 24, 9, 40, 0, TimeSpan.Zero));

    public Actor Engineer { get; private set; } = null!;

    public Actor Buyer { get; private set; } = null!;

    public Actor Fabricator { get; private set; } = null!;

    public Actor Rival { get; private set; } = null!;

    public Actor Coater { get; private set; } = null!;

    public Actor OtherEngineer { get; private set; } = null!;

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
        await PeopleAsync();
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

    private async Task PeopleAsync()
    {
        var shop = await OrganisationAsync("Saltmarsh Works", "build shop");
        Engineer = await PersonAsync(shop, "Saltmarsh Works", "build shop", "Mara Quill", Roles.Engineer);
        Buyer = await PersonAsync(shop, "Saltmarsh Works", "build shop", "Odo Reeve", Roles.Buyer);
        var fabricator = await OrganisationAsync("Holm Lane Fabrication", "fabricator");
        Fabricator = await PersonAsync(fabricator, "Holm Lane Fabrication", "fabricator", "Ines Holm", Roles.Fabricator);
        var rival = await OrganisationAsync("Dunlin Profile & Weld", "fabricator");
        Rival = await PersonAsync(rival, "Dunlin Profile & Weld", "fabricator", "Bram Dunlin", Roles.Fabricator);
        var coater = await OrganisationAsync("Teal Coatings", "coater");
        Coater = await PersonAsync(coater, "Teal Coatings", "coater", "Kit Teal", Roles.Coater);
        var other = await OrganisationAsync("Otter Machines", "build shop");
        OtherEngineer = await PersonAsync(other, "Otter Machines", "build shop", "Finn Otter", Roles.Engineer);
        foreach (var outside in new[] { fabricator, rival, coater })
            await DoAsync("insert into supplier (owner_id, organisation_id) values (@shop, @outside)", new { shop, outside });
    }

    private async Task<Guid> OrganisationAsync(string name, string kind)
    {
        var id = Guid.CreateVersion7();
        await DoAsync("insert into organisation (id, name, kind, created_at) values (@id, @name, @kind, now())", new { id, name, kind });
        return id;
    }

    private async Task<Actor> PersonAsync(Guid organisation, string organisationName, string kind, string name, Roles role)
    {
        var id = Guid.CreateVersion7();
        await DoAsync(
            "insert into person (id, organisation_id, name, roles, created_at) values (@id, @organisation, @name, @roles, now())",
            new { id, organisation, name, roles = new[] { role.ToString().ToLowerInvariant() } });
        return new Actor(id, organisation, name, organisationName, kind, role);
    }
}
