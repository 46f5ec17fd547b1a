using System.Collections.Concurrent;
using System.Globalization;
using Microsoft.Extensions.Logging;

namespace FabLink.Testing;

/// <summary>Keeps what is logged as a warning or worse, with its time.</summary>
internal sealed class WarningsKept : ILoggerProvider
{
    private readonly ConcurrentQueue<string> lines = new();

    public IReadOnlyList<string> Lines => [.. lines];

    public ILogger CreateLogger(string categoryName) => new Category(categoryName, lines);

    public void Dispose()
    {
    }

    private sealed class Category(string name, ConcurrentQueue<string> lines) : ILogger
    {
        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => logLevel is >= LogLevel.Warning and < LogLevel.None;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
        {
            if (IsEnabled(logLevel))
                lines.Enqueue(string.Create(CultureInfo.InvariantCulture, $"{DateTime.UtcNow:HH:mm:ss.f} {name}: {formatter(state, exception)}{(exception is null ? "" : " " + exception)}"));
        }
    }
}
