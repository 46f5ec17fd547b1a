using System.Globalization;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Platform.Web;

/// <summary>
/// Times as whoever looks reads them: in the zone of their organisation, else of the setting <c>Time:Zone</c>, else UTC;
/// with the year when it is not the year in which they look. Zone and year go with the request, as the culture does; jobs speak UTC and say the year.
/// </summary>
public static class LocalTime
{
    private sealed record Reader(TimeZoneInfo Zone, int? Year);

    private static readonly AsyncLocal<Reader?> _reader = new();

    public static TimeZoneInfo Zone => _reader.Value?.Zone ?? TimeZoneInfo.Utc;

    /// <summary><c>Tue 24 Nov 09:40</c></summary>
    public static string Time(DateTimeOffset time) => $"{Day(time)} {Clock(time)}";

    /// <summary><c>Tue 24 Nov</c></summary>
    public static string Day(DateTimeOffset time) => Day(DayOf(time));

    /// <summary><c>Thu 3 Dec</c></summary>
    public static string Day(DateOnly day) =>
        day.ToString(_reader.Value?.Year == day.Year ? "ddd d MMM" : "ddd d MMM yyyy", CultureInfo.InvariantCulture);

    /// <summary><c>3 Dec</c>: where there is no room for the day of the week.</summary>
    public static string ShortDay(DateOnly day) =>
        day.ToString(_reader.Value?.Year == day.Year ? "d MMM" : "d MMM yyyy", CultureInfo.InvariantCulture);

    /// <summary>The day on which it was, where the reader is.</summary>
    public static DateOnly DayOf(DateTimeOffset time) => DateOnly.FromDateTime(Local(time).DateTime);

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

    public static IApplicationBuilder UseLocalTime(this IApplicationBuilder app, TimeZoneInfo setting)
    {
        var clock = app.ApplicationServices.GetRequiredService<TimeProvider>();
        return app.Use((context, next) =>
        {
            Use(Find(Actor.From(context.User)?.Zone) ?? setting, clock.GetUtcNow());
            return next(context);
        });
    }

    /// <summary>From here on, in this request and what it calls.</summary>
    public static void Use(TimeZoneInfo zone, DateTimeOffset? now = null) =>
        _reader.Value = new Reader(zone, now is { } at ? TimeZoneInfo.ConvertTime(at, zone).Year : null);

    private static DateTimeOffset Local(DateTimeOffset time) => TimeZoneInfo.ConvertTime(time, Zone);
}
