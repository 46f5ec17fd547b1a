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
        "10", "H7", "js6", "h14", "Q7", "in", "mm", "µm", "rad", "deg", "⌖", "M", "Ⓛ", "(hole 12)", "(pin 3)", "(leg 120)", "(leg", ")", "go/no-go", "note:", ".", "..", ",", "e5", "NaN", "\t", "°", "'", "\"", "é", "😀",
        "9999999999999999999999", "0.0000000000000000000001",
    ];

    // Few pieces, so that units and signs of angles meet often.
    private static readonly string[] PiecesOfAngles = ["45°", "0°30'", "15\"", "12", ".5", "1,5", "±", "+", "-", "/", " to ", " ", "°", "'", "rad", "deg", "dms", "in", "(leg 120)", "max "];

    [Fact]
    public void Whatever_is_written_is_understood_and_printed_back_the_same_or_refused_at_a_character() => ReadsBack(Pieces, 7, 30_000);

    [Fact]
    public void Whatever_is_written_of_angles_is_printed_back_the_same_or_refused_at_a_character() => ReadsBack(PiecesOfAngles, 6, 30_000);

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
        iter: Fuzz.Times(100_000));

    private static void ReadsBack(string[] pieces, int most, int usual) =>
        Gen.Select(Gen.Int[0, pieces.Length - 1].Array[0, most], Gen.Enum<Unit>(), Gen.Int[0, Generals.Length - 1]).Sample((indices, unit, which) =>
        {
            var text = string.Concat(indices.Select(i => pieces[i]));
            var general = Generals[which];
            if (!Requirement.TryParse(text, unit, general, out var requirement, out var error))
                return error!.Position >= 0 && error.Position <= text.Length && error.Message.Length > 0;
            var printed = requirement!.ToString();
            // A note may be any words; everything else is read back as itself.
            if (requirement is NoteOnly)
                return true;
            var back = Requirement.Parse(printed, requirement.Unit, general);
            return back.ToString() == printed && back.Limits == requirement.Limits
                ? true
                : throw new InvalidOperationException($"“{text}” in {unit} is printed “{printed}” and read back as “{back}”, {back.Limits}");
        },
        iter: Fuzz.Times(usual));
}
