using System.Globalization;
using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Tolerances;

/// <summary>
/// A tolerance class of ISO 286: a letter (capital for holes) and a grade, as in <c>H7</c>. Sizes over 0 up to 500 mm, grades IT5 to IT14,
/// shafts d e f g h js k m n p s, holes D E F G H JS K M N P, from the rounded tables of ISO 286-1:2010.
/// </summary>
public readonly record struct ToleranceClass
{
    private static readonly SizeTable Grades = SizeTable.Load("iso-286-1-grades.csv");
    private static readonly SizeTable Shafts = SizeTable.Load("iso-286-1-shafts.csv");
    private static readonly SizeTable Holes = SizeTable.Load("iso-286-1-holes.csv");
    private static readonly SizeTable Delta = SizeTable.Load("iso-286-1-delta.csv");
    private static readonly SizeTable Exceptions = SizeTable.Load("iso-286-1-exceptions.csv");

    private const string ShaftLetters = "d e f g h js k m n p s";
    private const string HoleLetters = "D E F G H JS K M N P";

    private ToleranceClass(string letters, int grade) => (Letters, Grade) = (letters, grade);

    public string Letters { get; }

    public int Grade { get; }

    public bool IsHole => char.IsAsciiLetterUpper(Letters[0]);

    public static IReadOnlyList<string> Sources { get; } =
        [Grades.Citation, Holes.Citation, Shafts.Citation];

    /// <exception cref="InputError">Not a class, or one that the tables do not hold.</exception>
    public static ToleranceClass Parse(string text, string field = "class") =>
        TryParse(text, out var result, out var refusal) ? result : throw new InputError(field, refusal!);

    public static bool TryParse(ReadOnlySpan<char> text, out ToleranceClass result, out string? refusal)
    {
        text = text.Trim();
        var letters = 0;
        while (letters < text.Length && char.IsAsciiLetter(text[letters]))
            letters++;
        var letter = text[..letters].ToString();
        result = default;
        if (letters == 0 || !int.TryParse(text[letters..], NumberStyles.None, CultureInfo.InvariantCulture, out var grade))
            refusal = $"“{text}” is not a tolerance class like H7.";
        else if (!ShaftLetters.Split(' ').Contains(letter) && !HoleLetters.Split(' ').Contains(letter))
            refusal = $"“{letter}” is none of the letters in the tables: shafts {ShaftLetters}, holes {HoleLetters}.";
        else if (grade is < 5 or > 14)
            refusal = $"“{text}”: the tables hold the grades 5 to 14.";
        else
        {
            refusal = null;
            result = new ToleranceClass(letter, grade);
        }

        return refusal is null;
    }

    /// <summary>The limits in mm of a nominal size in mm.</summary>
    /// <exception cref="InputError">The size is outside the tables; the message names the range.</exception>
    public Limits LimitsOf(decimal size)
    {
        var (lower, upper) = DeviationsOf(size);
        return new Limits(size + lower, size + upper);
    }

    /// <summary>Lower and upper deviation in mm for a nominal size in mm.</summary>
    public (decimal Lower, decimal Upper) DeviationsOf(decimal size)
    {
        var grade = Grades.Find(size, "IT" + Grade.ToString(CultureInfo.InvariantCulture));
        var (lower, upper) = Letters switch
        {
            "js" or "JS" => (-grade / 2, grade / 2),
            "d" or "e" or "f" or "g" or "h" => Below(Shafts.Find(size, Letters), grade),
            "k" => Above(Shafts.Find(size, Grade <= 7 ? "k" : "k-other"), grade),
            "m" or "n" or "p" or "s" => Above(Shafts.Find(size, Letters), grade),
            "D" or "E" or "F" or "G" or "H" => Above(Holes.Find(size, Letters), grade),
            _ => Below(UpperDeviationOfHole(size), grade),
        };
        return (lower / 1000, upper / 1000);
    }

    public override string ToString() => Letters + Grade.ToString(CultureInfo.InvariantCulture);

    private static (decimal Lower, decimal Upper) Above(decimal lower, decimal grade) => (lower, lower + grade);

    private static (decimal Lower, decimal Upper) Below(decimal upper, decimal grade) => (upper - grade, upper);

    // ISO 286-1:2010, Table 3: ES of K, M, N up to IT8 and of P up to IT7 is the tabulated value plus Δ.
    private decimal UpperDeviationOfHole(decimal size)
    {
        if (Exceptions.TryFind(size, ToString()) is { } exception)
            return exception;
        var fine = Grade <= (Letters == "P" ? 7 : 8);
        return fine
            ? Holes.Find(size, Letters + "-fine") + Delta.Find(size, "IT" + Grade.ToString(CultureInfo.InvariantCulture))
            : Holes.Find(size, Letters + "-coarse");
    }
}
