using FabLink.Portal.Platform;
using FabLink.Portal.Platform.Database;

try
{
    await Portal.RunAsync(args);
    return 0;
}
catch (PrivateClusterException cannot)
{
    // Its message is for whoever runs the portal; where in our code it happened helps nobody.
    await Console.Error.WriteLineAsync(cannot.Message);
    return 1;
}

public partial class Program;
