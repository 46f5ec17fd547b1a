namespace FabLink.Portal.Platform.Database;

/// <summary>How a private cluster is kept.</summary>
/// <param name="ForTests">
/// Trade durability for speed (fsync and full page writes off, no sync in initdb).
/// A killed server loses nothing, a power cut may destroy the cluster: for throw-away data only.
/// </param>
/// <param name="Database">The database that is made when it is missing.</param>
/// <param name="MaxConnections">Server-wide limit of connections.</param>
/// <param name="StartTimeout">How long to wait for the server to accept connections; 60 s when null.</param>
public sealed record PrivateClusterOptions(
    bool ForTests = false,
    string Database = "fablink",
    int MaxConnections = 200,
    TimeSpan? StartTimeout = null);

/// <summary>A private cluster cannot run here: the message says what is wrong and what to do about it.</summary>
public sealed class PrivateClusterException(string message) : Exception(message);
