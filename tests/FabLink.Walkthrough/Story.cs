namespace FabLink.Walkthrough;

/// <summary>Says each step as it is done, and at the end whether all of it was.</summary>
internal sealed class Story
{
    private int _done;
    private bool _failed;

    public void Done(string who, string what) => Console.WriteLine($"{++_done,3}  {who,-12}{what}");

    public void Failed(string why)
    {
        _failed = true;
        Console.WriteLine($"FAILED after step {_done}: {why}");
    }

    public int End()
    {
        Console.WriteLine(_failed ? "The main job does not work." : $"The main job works: {_done} steps.");
        return _failed ? 1 : 0;
    }
}
