using System.Globalization;

namespace FabLink.Portal.Platform.Database;

/// <summary>
/// The account that PostgreSQL's programs run under. PostgreSQL refuses to run as root, so as root they are started
/// through <c>setpriv</c> as <c>postgres</c> (or <c>nobody</c>); an ordinary user runs them directly.
/// </summary>
internal sealed record ServerAccount(string Name, string? Uid, string? Gid)
{
    /// <summary>True when programs change to another account before they run.</summary>
    public bool Switches => Uid is not null;

    public static ServerAccount Find()
    {
        if (OperatingSystem.IsWindows() || !Environment.IsPrivilegedProcess)
            return new ServerAccount(Environment.UserName, null, null);

        if (!File.Exists("/usr/bin/setpriv") && !File.Exists("/bin/setpriv"))
            throw new PrivateClusterException(
                "PostgreSQL does not run as root and setpriv (package util-linux) is missing: install it, or start the portal as an ordinary user.");
        var accounts = File.ReadLines("/etc/passwd").Select(line => line.Split(':')).Where(f => f.Length > 3).ToList();
        var account = accounts.Find(f => f[0] == "postgres") ?? accounts.Find(f => f[0] == "nobody")
            ?? throw new PrivateClusterException(
                "PostgreSQL does not run as root and there is neither an account postgres nor nobody: add one, or start the portal as an ordinary user.");
        return new ServerAccount(account[0], account[2], account[3]);
    }

    /// <summary>The command line with the change of account in front of it where one is needed.</summary>
    public IReadOnlyList<string> Prefix(params IEnumerable<string> commandLine) => Switches
        ? ["setpriv", $"--reuid={Uid}", $"--regid={Gid}", "--clear-groups", "--", .. commandLine]
        : [.. commandLine];

    /// <summary>Makes a folder that only this account can read (mode 0700).</summary>
    public async Task MakeFolderAsync(string folder, CancellationToken cancel)
    {
        if (!Switches)
        {
            if (OperatingSystem.IsWindows()) Directory.CreateDirectory(folder);
            else Directory.CreateDirectory(folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
            return;
        }

        var made = await Command.RunAsync(["install", "-d", "-m", "0700", "-o", Uid!, "-g", Gid!, folder], cancel: cancel);
        if (made.ExitCode != 0) throw new PrivateClusterException($"The folder {folder} could not be made: {made.Output}");
        var reached = await Command.RunAsync(Prefix("test", "-w", folder), cancel: cancel);
        if (reached.ExitCode != 0)
            throw new PrivateClusterException(string.Create(CultureInfo.InvariantCulture,
                $"The account {Name}, under which PostgreSQL runs, cannot reach {folder}: choose a data folder whose parents everybody may enter (not under /root)."));
    }
}
