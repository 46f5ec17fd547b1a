using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Who said something, and for whom when it was not theirs to say.</summary>
public static class Behalf
{
    /// <summary><c>Mara Quill (Saltmarsh Works) on behalf of Holm Lane Fabrication</c>, or without the last part.</summary>
    public static string Words(string? person, string? organisation, string? onBehalfOf)
    {
        var who = person ?? "somebody";
        if (!string.IsNullOrEmpty(organisation))
            who += $" ({organisation})";
        return onBehalfOf is null ? who : $"{who} on behalf of {onBehalfOf}";
    }
}

/// <summary>Days and times as they are said in the shop; times in the zone of whoever reads (see <see cref="LocalTime"/>).</summary>
public static class When
{
    /// <summary><c>Thu 3 Dec</c>; with the year when it is not this one.</summary>
    public static string Day(DateOnly day) => LocalTime.Day(day);

    /// <summary><c>Tue 24 Nov 09:40</c></summary>
    public static string Time(DateTimeOffset time) => LocalTime.Time(time);

    /// <summary><c>3 hours</c>, <c>2 days</c>: how long something has lasted, rounded down.</summary>
    public static string Lasting(TimeSpan time) => time switch
    {
        { TotalHours: < 1 } => "less than an hour",
        { TotalHours: < 2 } => "an hour",
        { TotalHours: < 48 } => $"{(int)time.TotalHours} hours",
        _ => $"{(int)time.TotalDays} days",
    };
}
