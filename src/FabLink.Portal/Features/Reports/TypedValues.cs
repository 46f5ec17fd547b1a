using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports.Import;
using ValueText = FabLink.Portal.Features.Reports.Import.ValueText;

namespace FabLink.Portal.Features.Reports;

/// <summary>Turns what was typed on the measuring page into values, or says per field what to change.</summary>
public static class TypedValues
{
    /// <param name="Field">Key of the entry, for the error beside it.</param>
    public sealed record Problem(string Field, string Message);

    /// <param name="Odd">Read, and so far off that a person should look at them once more before they are judged.</param>
    public sealed record Result(IReadOnlyList<SubmitReport.Value> Values, IReadOnlyList<Problem> Problems, IReadOnlyList<Problem> Odd);

    public static Result Read(IReadOnlyList<Characteristic> asked, KeepDraft.Draft draft)
    {
        var values = new List<SubmitReport.Value>();
        var (problems, odd) = (new List<Problem>(), new List<Problem>());
        foreach (var row in asked)
        {
            for (var instance = 1; instance <= row.Count; instance++)
            {
                var key = KeepDraft.KeyOf(row.Id, instance);
                if (!draft.Entries.TryGetValue(key, out var entry) || entry.Value.Trim().Length == 0)
                    continue;
                var (typed, uncertain) = row.IsMeasured ? ValueText.Split(entry.Value, row.UnitOf) : (entry.Value, "");
                var own = entry.Uncertainty.Trim().TrimStart('±', ' ');
                if (uncertain.Length > 0 && own.Length > 0)
                {
                    problems.Add(new Problem(key, $"Balloon {row.NameOf(instance)}, uncertainty: it stands beside the value (±{uncertain}) and in its own field as well. Leave one of them out."));
                    continue;
                }

                // The field of the uncertainty shows the unit of the drawing; beside a value in another unit a bare number there could mean either.
                if (own.Length > 0 && ValueText.Share(typed, own, row.UnitOf) is var (_, shared) && shared != own && ValueText.Read(typed, row.UnitOf, out _).Unit is { } other && other != row.UnitOf)
                {
                    problems.Add(new Problem(key, $"Balloon {row.NameOf(instance)}, uncertainty: the value is in {Units.Symbol(other)}, its field shows {CharacteristicWords.Symbol(row.Unit)}. Write the unit behind it: {own} {Units.Symbol(other)} or {own} {CharacteristicWords.Symbol(row.Unit)}."));
                    continue;
                }

                if (own.Length > 0)
                    (typed, uncertain) = ValueText.Share(typed, own, row.UnitOf);
                var (number, message) = row.IsMeasured ? Number(row, typed) : (YesOrNo(typed), null);
                if (number is null)
                {
                    problems.Add(new Problem(key, $"Balloon {row.NameOf(instance)}: {message ?? (row.Kind == "text" ? "choose yes or no; other words go into the note below." : "choose go or no go.")}"));
                    continue;
                }

                var (uncertainty, why) = uncertain.Length == 0 ? (null, null) : Number(row, uncertain);
                if (why is not null || uncertainty <= 0)
                {
                    problems.Add(new Problem(key, $"Balloon {row.NameOf(instance)}, uncertainty: {why ?? "it is more than nothing; leave it empty where it is not known."}"));
                    continue;
                }

                values.Add(new SubmitReport.Value(row.Id, instance, number, row.Unit, entry.Value.Trim(), uncertainty, draft.Instrument, entry.Note));
                if (row.IsMeasured && OtherUnit.Near(PreviewFile.Handler.Expected(row), number.Value) is { } meant)
                    odd.Add(new Problem(key, $"Balloon {row.NameOf(instance)}: {entry.Value.Trim()} is far from {row.Requirement}, and near it when read {meant}. Check the unit, the decimal mark and the sign."));
            }
        }

        return new Result(values, problems, odd);
    }

    /// <summary>A value as it was typed, with its unit where it does not carry one.</summary>
    public static string Words(string typed, string unit) => unit switch
    {
        _ when typed.Any(letter => char.IsLetter(letter) || letter is '°' or '\'' or '"') => typed,
        "none" or "" => typed,
        "deg" or "dms" => $"{typed}°",
        _ when unit.StartsWith('°') => $"{typed}°",
        _ => $"{typed} {unit}",
    };

    private static (decimal? Number, string? Message) Number(Characteristic row, string typed)
    {
        var read = ValueText.Read(typed, row.UnitOf, out var refusal);
        if (read.Number is not { } number)
            return (null, refusal ?? $"“{typed.Trim()}” is not a number.");
        var unit = read.Unit ?? row.UnitOf;
        return Units.AreOfOneKind(unit, row.UnitOf)
            ? (read.IsArcSeconds ? number : Units.ToBase(number, unit), null)
            : (null, $"“{typed.Trim()}” is in another kind of unit than {row.Requirement}.");
    }

    private static decimal? YesOrNo(string typed) => ValueText.Read(typed, null, out _).Go is { } go ? go ? 1 : 0 : null;
}
