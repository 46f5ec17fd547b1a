using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Microsoft.Extensions.DependencyInjection;

namespace FabLink.Benchmarks;

/// <summary>A portal with one order of many pieces, made through the handlers.</summary>
internal sealed class PortalGround : IAsyncDisposable
{
    private readonly AsyncServiceScope _scope;

    private PortalGround(PortalUnderTest portal, DemoPeople people)
    {
        Portal = portal;
        People = people;
        _scope = portal.Services.CreateAsyncScope();
    }

    public PortalUnderTest Portal { get; }

    public DemoPeople People { get; }

    public static async Task<PortalGround> StartAsync(Action<IServiceCollection>? services = null)
    {
        var portal = await PortalUnderTest.StartAsync(new PortalOptions(Services: services));
        var people = await DemoPeople.WriteAsync(portal.Database.OwnerConnectionString, DateTimeOffset.UtcNow, CancellationToken.None);
        return new PortalGround(portal, people);
    }

    public T Of<T>()
        where T : notnull => _scope.ServiceProvider.GetRequiredService<T>();

    /// <summary>An accepted order to Holm Lane: lines × quantity pieces of one part with so many characteristics.</summary>
    /// <returns>The lines.</returns>
    public async Task<IReadOnlyList<Guid>> OrderAsync(string part, int characteristics, int lines, int quantity, IReadOnlyList<PlannedStep> route)
    {
        var build = Wanted<CreateBuild.Outcome.Created>(await Of<CreateBuild.Handler>().HandleAsync(
            People.Engineer, new CreateBuild.Request($"B-{part}", "benchmark"), default)).Id;
        var created = Wanted<CreatePart.Outcome.Created>(await Of<CreatePart.Handler>().HandleAsync(
            People.Engineer, new CreatePart.Request(part, "benchmark", GeneralTolerance: "ISO 2768-m"), default));
        var rows = Enumerable.Range(1, characteristics)
            .Select(balloon => new CharacteristicEntry { Balloon = $"{balloon}", Requirement = $"{10 + balloon} ±0.5", Class = "major", Stages = "tack" })
            .ToList();
        var saved = Wanted<EditCharacteristics.Outcome.Saved>(await Of<EditCharacteristics.Handler>().HandleAsync(
            People.Engineer, new EditCharacteristics.Request(created.RevisionId, 1, rows), default));
        Wanted<ReleaseRevision.Outcome.Released>(await Of<ReleaseRevision.Handler>().HandleAsync(
            People.Engineer, new ReleaseRevision.Request(created.RevisionId, saved.RowVersion), default));
        return await IssueAsync(created.RevisionId, build, lines, quantity, route);
    }

    /// <summary>An accepted order to Holm Lane of a released revision.</summary>
    /// <returns>The lines.</returns>
    public async Task<IReadOnlyList<Guid>> IssueAsync(Guid revision, Guid build, int lines, int quantity, IReadOnlyList<PlannedStep> route)
    {
        var needed = DateOnly.FromDateTime(DateTime.UtcNow).AddDays(20);
        var order = Wanted<CreateWorkOrder.Outcome.Created>(await Of<CreateWorkOrder.Handler>().HandleAsync(
            People.Buyer,
            new CreateWorkOrder.Request(
                People.HolmLane.OrganisationId,
                "",
                "",
                [.. Enumerable.Range(0, lines).Select(line => new PlannedLine(revision, build, quantity, needed.AddDays(line), "", route))]),
            default)).Id;
        Wanted<IssueWorkOrder.Outcome.Issued>(await Of<IssueWorkOrder.Handler>().HandleAsync(People.Buyer, new IssueWorkOrder.Request(order, 1), default));
        Wanted<OrderAnswer.Given>(await Of<AcceptWorkOrder.Handler>().HandleAsync(People.HolmLane, new AcceptWorkOrder.Request(order), default));
        await using var work = await Of<Database>().BeginAsync(People.HolmLane, default);
        return await work.RowsAsync<Guid>("select id from work_order_line where work_order_id = @order order by ordinal", new { order });
    }

    public static T Wanted<T>(object outcome) =>
        outcome is T wanted ? wanted : throw new InvalidOperationException($"Wanted {typeof(T).Name}, got {outcome}.");

    public async ValueTask DisposeAsync()
    {
        await _scope.DisposeAsync();
        await Portal.DisposeAsync();
    }
}
