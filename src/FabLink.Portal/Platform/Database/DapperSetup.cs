using System.Data;
using Dapper;

namespace FabLink.Portal.Platform.Database;

/// <summary>What Dapper must know once: snake_case columns, <c>date</c> as <see cref="DateOnly"/>, <c>timestamptz</c> as UTC <see cref="DateTimeOffset"/>, <c>text[]</c> as an array.</summary>
public static class DapperSetup
{
    private static readonly Lazy<bool> _done = new(() =>
    {
        DefaultTypeMap.MatchNamesWithUnderscores = true;
        SqlMapper.AddTypeHandler(new InstantHandler());
        SqlMapper.AddTypeHandler(new DayHandler());
        SqlMapper.AddTypeHandler(new ArrayHandler<string>());
        SqlMapper.AddTypeHandler(new ArrayHandler<Guid>());
        SqlMapper.AddTypeHandler(new ArrayHandler<bool>());
        SqlMapper.AddTypeHandler(new ArrayHandler<DateTime>());
        return true;
    });

    public static void Once() => _ = _done.Value;

    private sealed class InstantHandler : SqlMapper.TypeHandler<DateTimeOffset>
    {
        public override DateTimeOffset Parse(object value) => value switch
        {
            DateTime time => new DateTimeOffset(DateTime.SpecifyKind(time, DateTimeKind.Utc)),
            DateTimeOffset time => time,
            _ => throw new DataException($"Not a time: {value.GetType().Name}"),
        };

        public override void SetValue(IDbDataParameter parameter, DateTimeOffset value) => parameter.Value = value.UtcDateTime;
    }

    private sealed class DayHandler : SqlMapper.TypeHandler<DateOnly>
    {
        public override DateOnly Parse(object value) => value switch
        {
            DateOnly day => day,
            DateTime time => DateOnly.FromDateTime(time),
            _ => throw new DataException($"Not a day: {value.GetType().Name}"),
        };

        public override void SetValue(IDbDataParameter parameter, DateOnly value) => parameter.Value = value;
    }

    /// <summary>Arrays of PostgreSQL fit positional records.</summary>
    private sealed class ArrayHandler<T> : SqlMapper.TypeHandler<T[]>
    {
        public override T[] Parse(object value) => (T[])value;

        public override void SetValue(IDbDataParameter parameter, T[]? value) => parameter.Value = value ?? (object)DBNull.Value;
    }
}
