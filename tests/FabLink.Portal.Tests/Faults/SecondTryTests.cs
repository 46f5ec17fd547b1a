using System.Diagnostics;
using System.Net;
using Dapper;
using FabLink.Portal.Platform.Web;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;
using Microsoft.AspNetCore.Http;
using Npgsql;

namespace FabLink.Portal.Tests.Faults;

/// <summary>PostgreSQL ends one of two transactions that wait for each other; whoever pressed the button does not learn of it.</summary>
public sealed class SecondTryTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    [Fact]
    public async Task A_deadlock_costs_the_person_nothing()
    {
        var scene = portal.Scene;
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, quantity: 2));
        var steps = (await scene.StepsAsync(order, "cut")).Order().ToArray();
        using var ida = await portal.SignInAsync("ida@holmlane.example");
        await ida.GetAsync($"/orders/{order}");

        // The other side holds the second step, the request takes the first and waits; then the other side wants the first.
        // It is patient, so that it is the request that PostgreSQL ends.
        await using var other = await scene.OwnerAsync();
        await using (var transaction = await other.BeginTransactionAsync(TestContext.Current.CancellationToken))
        {
            await other.ExecuteAsync("set local deadlock_timeout = '60s'");
            await other.ExecuteAsync("select 1 from piece_step where id = @id for update", new { id = steps[1] }, transaction);
            var pressed = ida.SubmitAsync("form[action='/steps/start']");
            await WaitingAsync();
            await other.ExecuteAsync("select 1 from piece_step where id = @id for update", new { id = steps[0] }, transaction);
            await transaction.RollbackAsync(TestContext.Current.CancellationToken);
            await pressed;
        }

        Assert.Equal(HttpStatusCode.OK, ida.Page.Status);
        Assert.Equal(2, await scene.AskAsync<long>("select count(*) from piece_step where id = any(@steps) and started_at is not null", new { steps }));

        async Task WaitingAsync()
        {
            for (var patience = Stopwatch.StartNew(); patience.Elapsed < TimeSpan.FromSeconds(20); await Task.Delay(20, TestContext.Current.CancellationToken))
            {
                if (await scene.AskAsync<bool>("select exists (select 1 from pg_locks l join pg_stat_activity a on a.pid = l.pid where not l.granted and a.usename = 'fablink_app' and a.datname = current_database())"))
                    return;
            }

            Assert.Fail("The request never waited.");
        }
    }

    [Theory]
    [InlineData("40P01")]
    [InlineData("40001")]
    public async Task When_it_happens_again_and_again_it_is_said_in_a_sentence(string code)
    {
        var context = new DefaultHttpContext();
        context.Request.Method = "POST";
        var runs = 0;

        await SecondTry.InvokeAsync(context, _ =>
        {
            runs++;
            context.Response.Headers["X-Half"] = "done";
            throw new PostgresException("deadlock detected", "ERROR", "ERROR", code);
        });

        Assert.Equal((3, 503), (runs, context.Response.StatusCode));
        Assert.False(context.Response.Headers.ContainsKey("X-Half"));
        Assert.Contains("Send it again", ErrorSheet.For(503, "x").Advice, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Any_other_error_is_nobodys_to_swallow()
    {
        var runs = 0;
        await Assert.ThrowsAsync<PostgresException>(() => SecondTry.InvokeAsync(new DefaultHttpContext(), _ =>
        {
            runs++;
            throw new PostgresException("no", "ERROR", "ERROR", PostgresErrorCodes.UniqueViolation);
        }));
        Assert.Equal(1, runs);
    }
}
