using FabLink.Walkthrough;

if (args.Length < 1)
{
    Console.Error.WriteLine("usage: FabLink.Walkthrough ADDRESS");
    return 2;
}
var story = new Story();
try
{
    await MainJob.WalkAsync(story, new Uri(args[0]));
}
catch (Exception failed) when (failed is InvalidOperationException or HttpRequestException or TaskCanceledException)
{
    story.Failed(failed.Message);
}
return story.End();
