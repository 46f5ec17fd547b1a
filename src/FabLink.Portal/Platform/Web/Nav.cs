namespace FabLink.Portal.Platform.Web;

/// <summary>One place a person may go from anywhere.</summary>
public sealed record NavItem(string Label, string Path)
{
    /// <summary>True on the place itself and on every page below it.</summary>
    public bool Covers(PathString here) => Path == "/" ? here == "/" : here.StartsWithSegments(Path);
}

/// <summary>The head of every page: where this person may go, who is signed in, how to sign out.</summary>
public sealed record NavModel(IReadOnlyList<NavItem> Items, string? Person = null, string? Organisation = null, string SignOutPath = "/sign-out")
{
    public static NavModel SignedOut { get; } = new([]);
}

/// <summary>Says what stands in the head of the page for this request; register your own to replace the empty one.</summary>
public interface INavSource
{
    ValueTask<NavModel> ForAsync(HttpContext context);
}

internal sealed class EmptyNav : INavSource
{
    public ValueTask<NavModel> ForAsync(HttpContext context) => new(NavModel.SignedOut);
}
