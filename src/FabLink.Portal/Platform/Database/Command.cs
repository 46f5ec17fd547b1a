using System.Diagnostics;

namespace FabLink.Portal.Platform.Database;

/// <summary>Exit code and everything that was printed, standard output before standard error.</summary>
internal sealed record CommandResult(int ExitCode, string Output);

/// <summary>Runs a program to its end, without a shell.</summary>
internal static class Command
{
    public static async Task<CommandResult> RunAsync(
        IReadOnlyList<string> commandLine, string? input = null, CancellationToken cancel = default)
    {
        var start = new ProcessStartInfo(commandLine[0])
        {
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            UseShellExecute = false,
            // The account of the server may not be allowed into our own working folder.
            WorkingDirectory = Path.GetPathRoot(Environment.CurrentDirectory)!,
        };
        foreach (var argument in commandLine.Skip(1)) start.ArgumentList.Add(argument);
        // PGDATA, PGPORT, PGOPTIONS … of the caller's shell must not steer our server.
        foreach (var name in start.Environment.Keys.Where(k => k.StartsWith("PG", StringComparison.Ordinal)).ToList())
            start.Environment.Remove(name);

        using var process = Process.Start(start)
            ?? throw new PrivateClusterException($"{commandLine[0]} could not be started.");
        try
        {
            var output = process.StandardOutput.ReadToEndAsync(cancel);
            var errors = process.StandardError.ReadToEndAsync(cancel);
            if (input is not null) await process.StandardInput.WriteAsync(input.AsMemory(), cancel);
            process.StandardInput.Close();
            await process.WaitForExitAsync(cancel);
            return new CommandResult(process.ExitCode, (await output + await errors).Trim());
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            throw;
        }
    }
}
