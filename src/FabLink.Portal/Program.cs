using FabLink.Portal.Platform;

await Portal.RunAsync(args);
public partial class Program;
