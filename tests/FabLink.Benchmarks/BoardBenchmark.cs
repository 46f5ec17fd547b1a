using System.Diagnostics;
using System.Text.Encodings.Web;
using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.DependencyInjection;

namespace FabLink.Benchmarks;

/// <summary>
/// The board with 2,000 open pieces, all rendered, against a minimal endpoint in the same process that runs the same SQL as the same actor
/// and writes a plain table of the same rows. The two alternate in one run; requests per second over one connection are compared.
/// </summary>
internal static class BoardBenchmark
{
    private const int Requests = 25;

    public static async Task RunAsync()
    {
        await using var ground = await PortalGround.StartAsync(services => services.AddSingleton<IStartupFilter, PlainBoard>());
        await ground.OrderAsync("BM-2", 1, 4, 500, [.. PlannedStep.UsualRoute(ground.People.Engineer.OrganisationId, ground.People.Teal.OrganisationId)]);
        using var buyer = await ground.Portal.SignInAsync("edda@saltmarsh.example", DemoPassword);
        var (board, plain) = (TimeSpan.Zero, TimeSpan.Zero);
        var (boardBytes, plainBytes) = (0, 0);
        for (var round = -5; round < Requests; round++)
        {
            var (first, firstBytes) = await TimeAsync(buyer, "/board");
            var (second, secondBytes) = await TimeAsync(buyer, PlainBoard.Path);
            if (round < 0)
                continue;
            board += first;
            plain += second;
            (boardBytes, plainBytes) = (firstBytes, secondBytes);
        }
        Console.WriteLine(
            $"board of 2,000 pieces: {Requests / board.TotalSeconds:0.0} pages/s ({boardBytes / 1024} KiB), "
            + $"plain table {Requests / plain.TotalSeconds:0.0} pages/s ({plainBytes / 1024} KiB), ratio {plain / board:0.00}");
    }

    private static string DemoPassword => Portal.Features.Demo.DemoPeople.Password;

    private static async Task<(TimeSpan Took, int Bytes)> TimeAsync(Person person, string path)
    {
        var watch = Stopwatch.StartNew();
        var body = await person.Client.GetByteArrayAsync(new Uri(path, UriKind.Relative));
        return (watch.Elapsed, body.Length);
    }

    /// <summary>The least that could be done with the same rows.</summary>
    private sealed class PlainBoard : IStartupFilter
    {
        public const string Path = "/plain-board";

        public Action<IApplicationBuilder> Configure(Action<IApplicationBuilder> next) => app =>
        {
            app.UseAuthentication();
            app.Map(Path, plain => plain.Run(AnswerAsync));
            next(app);
        };

        private static async Task AnswerAsync(HttpContext context)
        {
            var actor = Actor.From(context.User) ?? throw new InvalidOperationException("Nobody is signed in.");
            await using var work = await context.RequestServices.GetRequiredService<Database>().BeginAsync(actor, context.RequestAborted);
            var rows = await work.RowsAsync<ShowBoard.Row>(ShowBoard.Select, ShowBoard.Arguments(new ShowBoard.Filter()));
            context.Response.ContentType = "text/html; charset=utf-8";
            await using var writer = new StringWriter();
            await writer.WriteAsync("<!doctype html><table>");
            var encoder = HtmlEncoder.Default;
            foreach (var row in rows)
            {
                await writer.WriteAsync("<tr><td>");
                encoder.Encode(writer, row.Serial);
                await writer.WriteAsync("<td>");
                encoder.Encode(writer, row.PartName);
                await writer.WriteAsync("<td>");
                await writer.WriteAsync(row.NeedDate.ToString("yyyy-MM-dd"));
                await writer.WriteAsync("<td>");
                encoder.Encode(writer, row.Shop);
                for (var i = 0; i < row.Kinds.Length; i++)
                {
                    await writer.WriteAsync("<td>");
                    encoder.Encode(writer, row.Kinds[i]);
                    await writer.WriteAsync(row.Finished[i].ToString("yyyy-MM-dd"));
                }
            }
            await writer.WriteAsync("</table>");
            await context.Response.WriteAsync(writer.ToString(), context.RequestAborted);
        }
    }
}
