using CsCheck;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Tolerances;

public class RequirementPropertyTests
{
    private static readonly GeneralTolerance?[] Generals = [null, GeneralTolerance.Parse("ISO 2768-mK"), GeneralTolerance.Parse("ISO 13920-BF")];
    private static readonly string[] Pieces =
    [
        "12", "0", "0.1", ".5", "1,5", "120", "45°", "0°30'", "15\"", " ", " ", "±", "+", "-", "−", "–", "/", "to", "max", "min.", "≤", "≥", "Ø", "R", "S", "x", "×",
        "10", "H7", "js6", "h14", "Q7", "in", "mm", "µm", "(leg 120)", "(leg", ")", "go/no-go", "note:", ".", "..", ",", "e5", "NaN", "\t", "°", "'", "\"", "é", "😀",
        "9999999999999999999999", "0.0000000000000000000001",
    ];

    [Fact]
    public void Whatever_is_written_is_understood_and_printed_back_the_same_or_refused_at_a_character() =>
        Gen.Select(Gen.Int[0, Pieces.Length - 1].Array[0, 7], Gen.Enum<Unit>(), Gen.Int[0, Generals.Length - 1]).Sample((indices, unit, which) =>
        {
            var text = string.Concat(indices.Select(i => Pieces[i]));
            var general = Generals[which];
            if (!Requirement.TryParse(text, unit, general, out var requirement, out var error))
                return error!.Position >= 0 && error.Position <= text.Length && error.Message.Length > 0;
            var printed = requirement!.ToString();
            // A note may be any words; everything else is read back as itself.
            return requirement is NoteOnly || Requirement.Parse(printed, requirement.Unit, general).ToString() == printed
                && Requirement.Parse(printed, requirement.Unit, general).Limits == requirement.Limits;
        },
        iter: 30_000);

    [Fact]
    public void Deviations_written_by_a_person_give_the_sums_a_person_would_make() =>
        Gen.Select(Gen.Int[1, 5_000_000], Gen.Int[-9_999, 9_999], Gen.Int[-9_999, 9_999], Gen.Bool).Sample((size, one, other, comma) =>
        {
            var (nominal, upper, lower) = (size / 1000m, Math.Max(one, other) / 1000m, Math.Min(one, other) / 1000m);
            var text = string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{nominal} {upper:+0.000;-0.000;0}/{lower:+0.000;-0.000;0}");
            if (comma)
                text = text.Replace('.', ',');
            return Requirement.Parse(text, Unit.Millimetre, null).Limits == new Limits(nominal + lower, nominal + upper);
        },
        iter: 100_000);
}
