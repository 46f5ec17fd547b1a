using BenchmarkDotNet.Running;

namespace FabLink.Benchmarks;

/// <summary><c>portal</c> runs the three that need a database (<c>recheck</c> only the last); anything else goes to BenchmarkDotNet (<c>--filter '*'</c>).</summary>
internal static class Program
{
    private static async Task Main(string[] args)
    {
        if (args is ["portal", ..])
        {
            await StoreBenchmark.RunAsync();
            await BoardBenchmark.RunAsync();
            await RecheckBenchmark.RunAsync();
            return;
        }
        if (args is ["store"])
        {
            await StoreBenchmark.RunAsync();
            return;
        }
        if (args is ["recheck"])
        {
            await RecheckBenchmark.RunAsync();
            return;
        }
        BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
    }
}
