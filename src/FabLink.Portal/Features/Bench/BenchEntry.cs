using FabLink.Portal.Features.Calculations;

namespace FabLink.Portal.Features.Bench;

/// <summary>One page of the bench.</summary>
public sealed record BenchEntry(string Name, string Title, string Summary)
{
    public static BenchEntry Fasteners { get; } =
        new("fasteners", "Fasteners", "Position tolerance from hole and fastener, or the hole from the tolerance, floating and fixed.");

    public static BenchEntry Gauge { get; } =
        new("gauge", "Gauge and temperature", "Is an instrument fine enough for a tolerance, and what is a reading at 20 °C?");

    /// <summary>The calculators in their order, with what has a page but no question of its own.</summary>
    public static IReadOnlyList<BenchEntry> All { get; } =
    [
        .. Calculators.All.SelectMany(calculator => calculator.Name switch
        {
            "position" => (BenchEntry[])[Of(calculator), Fasteners],
            "gauge-study" => [Gauge, Of(calculator)],
            _ => [Of(calculator)],
        }),
    ];

    private static BenchEntry Of(Calculator calculator) => new(calculator.Name, calculator.Title, calculator.Summary);
}

/// <summary>A page of the bench: what was typed and what came of it.</summary>
/// <param name="Entry">Which page.</param>
/// <param name="Form">As typed.</param>
/// <param name="Answer">Null before anything was asked, and after a refusal.</param>
public sealed record BenchSheet<TForm, TAnswer>(BenchEntry Entry, TForm Form, TAnswer? Answer)
    where TAnswer : class;

/// <summary>The foot of every answer: where it comes from and what limits it.</summary>
public sealed record Footing(IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);
