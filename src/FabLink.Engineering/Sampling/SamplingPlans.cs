using System.Globalization;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Sampling;

/// <param name="CodeLetter">By lot size and level.</param>
/// <param name="PlanLetter">Of the plan in use; another one where the table has an arrow.</param>
/// <param name="SampleSize">Pieces to inspect; the whole lot where the plan asks for as many or more.</param>
/// <param name="Accept">Accept the lot with at most so many nonconforming.</param>
/// <param name="Reject">Reject it with so many or more.</param>
/// <param name="Sources">Standard, edition, tables.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record SamplingPlan(
    string CodeLetter,
    string PlanLetter,
    int SampleSize,
    int Accept,
    int Reject,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>Single sampling plans by attributes for normal inspection, ISO 2859-1:1999 (ANSI/ASQ Z1.4 has the same tables).</summary>
public static class SamplingPlans
{
    private static readonly StandardTable Letters = StandardTable.Load("iso-2859-1-code-letters.csv");
    private static readonly StandardTable Plans = StandardTable.Load("iso-2859-1-single-normal.csv");

    public static IEnumerable<string> Levels => Letters.Columns.Skip(2);

    public static IEnumerable<decimal> Aqls => Plans.Columns.Skip(2).Select(Percent);

    /// <param name="lot">Pieces in the lot, 2 or more.</param>
    /// <param name="level">S-1 to S-4, I, II or III; II is the usual one.</param>
    /// <param name="aql">Acceptance quality limit in percent nonconforming, one of <see cref="Aqls"/>.</param>
    /// <param name="inspection">normal; the library holds no other table.</param>
    /// <param name="importance">Critical characteristics are never sampled.</param>
    /// <exception cref="InputError">Outside the tables; the message names what they hold.</exception>
    public static SamplingPlan Find(int lot, string level = "II", decimal aql = 1, string inspection = "normal", Importance importance = Importance.Minor)
    {
        Sampled.Require(importance);
        if (inspection != "normal")
            throw new InputError("inspection", $"“{inspection}”: only the plans for normal inspection are held.");
        var letter = CodeLetter(lot, level);
        var column = Plans.Columns.Skip(2).FirstOrDefault(c => Percent(c) == aql)
            ?? throw new InputError("aql", $"{aql} % is none of the quality limits in {Plans.Citation}: {string.Join(", ", Aqls.Select(a => a.ToString(CultureInfo.InvariantCulture)))}.");
        var row = FollowArrows(letter, column);
        var sample = int.Parse(Plans.Cell(row, "sampleSize"), CultureInfo.InvariantCulture);
        var accept = int.Parse(Plans.Cell(row, column), CultureInfo.InvariantCulture);
        return new SamplingPlan(letter, row[0], Math.Min(sample, lot), accept, accept + 1, [Letters.Citation, Plans.Citation], CautionsFor(letter, row[0], sample, lot));
    }

    /// <summary>Table 1.</summary>
    public static string CodeLetter(int lot, string level)
    {
        if (lot < 2)
            throw new InputError("lot", $"{Letters.Citation} is for lots of 2 pieces and more, not {lot}.");
        if (!Levels.Contains(level))
            throw new InputError("level", $"“{level}” is none of the levels {string.Join(", ", Levels)}.");
        var row = Letters.Rows.First(row => StandardTable.Number(row[1]) is not { } upTo || lot <= upTo);
        return Letters.Cell(row, level);
    }

    private static string[] FollowArrows(string letter, string column)
    {
        var index = Plans.Rows.ToList().FindIndex(row => row[0] == letter);
        while (Plans.Cell(Plans.Rows[index], column) is "down" or "up")
            index += Plans.Cell(Plans.Rows[index], column) == "down" ? 1 : -1;
        return Plans.Rows[index];
    }

    private static decimal Percent(string column) => StandardTable.Number(column)!.Value;

    private static List<string> CautionsFor(string letter, string planLetter, int sample, int lot)
    {
        var cautions = new List<string> { "For a series of lots under the standard's switching rules; for a single lot look at the operating curve." };
        if (planLetter != letter)
            cautions.Add($"The table has an arrow at {letter}: the plan of {planLetter} is used, sample size and acceptance number both.");
        if (sample >= lot)
            cautions.Add($"The plan asks for {sample} pieces, the lot has {lot}: inspect all of them.");
        return cautions;
    }
}

/// <summary>What may be sampled at all.</summary>
public static class Sampled
{
    public static bool IsAllowed(Importance importance) => importance != Importance.Critical;

    internal static void Require(Importance importance)
    {
        if (!IsAllowed(importance))
            throw new InputError("importance", "A critical characteristic is measured on every piece, never sampled.");
    }
}
