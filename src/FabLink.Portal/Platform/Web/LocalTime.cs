using System.Globalization;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Platform.Web;

/// <summary>
/// Times as whoever looks reads them: in the zone of their organisation, else of the setting <c>Time:Zone</c>, else UTC.
/// The zone goes with the request, as the culture does; jobs speak UTC.
/// </summary>
public static class LocalTime
{
    private static readonly AsyncLocal<TimeZoneInfo?> _zone = new();

    public static TimeZoneInfo Zone => _zone.Value ?? TimeZoneInfo.Utc;

    /// <summary><c>Tue 24 Nov 09:40</c></summary>
    public static string Time(DateTimeOffset time) => Local(time).ToString("ddd d MMM HH:mm", CultureInfo.InvariantCulture);

    /// <summary><c>Tue 24 Nov</c></summary>
    public static string Day(DateTimeOffset time) => Local(time).ToString("ddd d MMM", CultureInfo.InvariantCulture);

    /// <summary><c>09:40</c></summary>
    public static string Clock(DateTimeOffset time) => Local(time).ToString("HH:mm", CultureInfo.InvariantCulture);

    /// <summary><c>Tue 24 Nov 09:40 UTC+1</c>: for mail, which is read in another zone perhaps.</summary>
    public static string TimeAndZone(DateTimeOffset time) => $"{Time(time)} {Offset(time)}";

    /// <summary><c>UTC+1</c>, <c>UTC-3:30</c>, <c>UTC</c>.</summary>
    public static string Offset(DateTimeOffset time)
    {
        var offset = Local(time).Offset;
        return offset == TimeSpan.Zero ? "UTC"
            : $"UTC{(offset < TimeSpan.Zero ? '-' : '+')}{Math.Abs(offset.Hours)}{(offset.Minutes == 0 ? "" : $":{Math.Abs(offset.Minutes):00}")}";
    }

    /// <summary>The zone of an IANA name, or null when it is none.</summary>
    public static TimeZoneInfo? Find(string? name) =>
        !string.IsNullOrWhiteSpace(name) && TimeZoneInfo.TryFindSystemTimeZoneById(name.Trim(), out var zone) && zone.HasIanaId ? zone : null;

    /// <summary>Setting <c>Time:Zone</c>; a name that is none stops the start rather than showing wrong times.</summary>
    public static TimeZoneInfo OfSetting(string? name) =>
        string.IsNullOrWhiteSpace(name) ? TimeZoneInfo.Utc
        : Find(name) ?? throw new InvalidOperationException($"Time:Zone is '{name}', which is no IANA time zone such as Europe/Lisbon.");

    public static IApplicationBuilder UseLocalTime(this IApplicationBuilder app, TimeZoneInfo setting) => app.Use((context, next) =>
    {
        Use(Find(Actor.From(context.User)?.Zone) ?? setting);
        return next(context);
    });

    /// <summary>From here on, in this request and what it calls.</summary>
    public static void Use(TimeZoneInfo zone) => _zone.Value = zone;

    private static DateTimeOffset Local(DateTimeOffset time) => TimeZoneInfo.ConvertTime(time, Zone);
}
