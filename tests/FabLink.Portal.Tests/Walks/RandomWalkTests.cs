using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Walks;

/// <summary>
/// People who do whatever comes to their minds, in any order: a piece goes on exactly when the rules let it, every page says the same of it, whoever's turn it is
/// has something to press, and who does what is offered comes to the end.
/// </summary>
public sealed class RandomWalkTests(Scene scene) : IClassFixture<Scene>
{
    private static readonly int _walks = int.TryParse(Environment.GetEnvironmentVariable("FABLINK_WALKS"), out var walks) ? walks : 5;
    private static readonly int _from = int.TryParse(Environment.GetEnvironmentVariable("FABLINK_WALKS_FROM"), out var from) ? from : 1;

    public static TheoryData<int> Seeds => [.. Enumerable.Range(_from, _walks)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public async Task A_piece_goes_on_when_the_rules_let_it_and_every_page_says_so(int seed)
    {
        var walk = await Walk.BeginAsync(scene, seed);
        for (var act = 0; act < 60; act++)
        {
            await walk.ActAsync();
            await walk.CheckAsync(all: act % 15 == 0);
        }
        await walk.EndAsync();
    }
}
