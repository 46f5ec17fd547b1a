namespace FabLink.Testing;

internal static class Migrations
{
    public static Task ApplyAsync(string ownerConnectionString) => Task.CompletedTask;
}
