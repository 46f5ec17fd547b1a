using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Unicode;

namespace FabLink.Portal.Features.Calculations;

/// <summary>How questions are read: strictly, so that a misspelt field is an error and never a default.</summary>
internal static class CalculationJson
{
    /// <summary>As many calculations at once as there are processors; the others wait their turn within their time.</summary>
    public static SemaphoreSlim Room { get; } = new(Environment.ProcessorCount);

    public static JsonSerializerOptions Options { get; } = Set(new JsonSerializerOptions());

    /// <summary>For people: indented, without what is not there.</summary>
    public static JsonSerializerOptions Indented { get; } = new(Options) { WriteIndented = true, DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    public static JsonSerializerOptions Set(JsonSerializerOptions options)
    {
        options.PropertyNamingPolicy = JsonNamingPolicy.CamelCase;
        options.PropertyNameCaseInsensitive = false;
        options.NumberHandling = JsonNumberHandling.Strict;
        options.UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow;
        options.AllowDuplicateProperties = false;
        options.Encoder = JavaScriptEncoder.Create(UnicodeRanges.All);
        return options;
    }

    /// <summary>RFC 6901 pointer from the path of a <see cref="JsonException"/>: <c>$.holes[3].a</c> is <c>/holes/3/a</c>.</summary>
    public static string Pointer(string? path)
    {
        var pointer = new StringBuilder();
        var rest = (path ?? "").AsSpan().TrimStart('$');
        while (!rest.IsEmpty)
        {
            var quoted = rest.StartsWith("['");
            var start = quoted ? 2 : 1;
            var length = quoted ? rest[start..].IndexOf("']") : rest[0] == '[' ? rest[start..].IndexOf(']') : rest[start..].IndexOfAny('.', '[');
            if (length < 0)
                length = rest.Length - start;
            pointer.Append('/').Append(rest.Slice(start, length).ToString().Replace("~", "~0", StringComparison.Ordinal).Replace("/", "~1", StringComparison.Ordinal));
            rest = rest[Math.Min(rest.Length, start + length + (quoted ? 2 : rest[0] == '[' ? 1 : 0))..];
        }

        return pointer.ToString();
    }

    /// <summary>What is wrong with a body that could not be read, for the person who wrote the program that sent it.</summary>
    public static string Reason(JsonException fault)
    {
        var message = fault.Message;
        if (message.Contains("could not be mapped", StringComparison.Ordinal))
            return $"There is no field “{message.Split('\'').ElementAtOrDefault(1)}” here.";
        if (message.Contains("Duplicate property", StringComparison.Ordinal))
            return $"The field “{message.Split('\'').ElementAtOrDefault(1)}” is there twice.";
        if (message.Contains("could not be converted", StringComparison.Ordinal))
            return Pointer(fault.Path) is { Length: > 0 } field ? $"{field} must be {Expected(message + fault.InnerException?.Message)}." : "The question is an object.";
        return $"This is not JSON (line {fault.LineNumber + 1}, byte {fault.BytePositionInLine + 1}); numbers are written like -0.5 or 1e3, and NaN is none.";
    }

    private static string Expected(string message) =>
        message.Contains("as a string", StringComparison.Ordinal) ? "a text"
        : message.Contains("Int32", StringComparison.Ordinal) || message.Contains("Int64", StringComparison.Ordinal) ? "a whole number"
        : message.Contains("as a number", StringComparison.Ordinal) || message.Contains("Double", StringComparison.Ordinal) || message.Contains("Decimal", StringComparison.Ordinal) ? "a number"
        : message.Contains("as a boolean", StringComparison.Ordinal) || message.Contains("Boolean", StringComparison.Ordinal) ? "true or false"
        : message.Contains("List", StringComparison.Ordinal) || message.Contains("[]", StringComparison.Ordinal) ? "a list"
        : message.Contains("System.String", StringComparison.Ordinal) ? "a text"
        : "an object";
}

/// <summary>A text that may also be sent as a number: its digits are kept as they were written.</summary>
internal sealed class TextOrNumber : JsonConverter<string>
{
    public override string? Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => reader.TokenType switch
    {
        JsonTokenType.String => reader.GetString(),
        JsonTokenType.Number => Encoding.UTF8.GetString(reader.HasValueSequence ? reader.ValueSequence.ToArray() : reader.ValueSpan),
        _ => throw new JsonException(),
    };

    public override void Write(Utf8JsonWriter writer, string value, JsonSerializerOptions options) => writer.WriteStringValue(value);
}
