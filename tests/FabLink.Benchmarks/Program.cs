using BenchmarkDotNet.Running;

namespace FabLink.Benchmarks;

/// <summary><c>portal</c> runs the two that need a database; anything else goes to BenchmarkDotNet (<c>--filter '*'</c>).</summary>
internal static class Program
{
    private static async Task Main(string[] args)
    {
        if (args is ["portal", ..])
        {
            await StoreBenchmark.RunAsync();
            await BoardBenchmark.RunAsync();
            return;
        }
        BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
    }
}
