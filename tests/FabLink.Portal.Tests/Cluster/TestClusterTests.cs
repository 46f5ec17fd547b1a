using FabLink.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.Cluster;

public sealed class TestClusterTests
{
    [Fact]
    public async Task Two_clones_do_not_see_each_other_and_say_which_server_they_run_on()
    {
        var cluster = await TestCluster.SharedAsync();
        TestContext.Current.SendDiagnosticMessage(cluster.Description);
        await using var one = await cluster.CloneAsync();
        await using var other = await cluster.CloneAsync();

        await RunAsync(one, "create table only_here (x int)");

        Assert.NotEqual(one.Name, other.Name);
        Assert.Equal(DBNull.Value, await RunAsync(other, "select to_regclass('only_here')::text"));
        Assert.Equal("only_here", await RunAsync(one, "select to_regclass('only_here')::text"));
    }

    private static async Task<object?> RunAsync(TestDatabase database, string sql)
    {
        await using var connection = new NpgsqlConnection(database.OwnerConnectionString);
        await connection.OpenAsync(TestContext.Current.CancellationToken);
        await using var command = new NpgsqlCommand(sql, connection);
        return await command.ExecuteScalarAsync(TestContext.Current.CancellationToken);
    }
}
