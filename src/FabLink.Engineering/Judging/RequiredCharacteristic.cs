using FabLink.Engineering.Gauging;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>A characteristic as a report must answer it. Its requirement's count says how many instances there are.</summary>
/// <param name="Balloon">Its number on the drawing, unique in a report.</param>
/// <param name="Requirement">What is asked.</param>
/// <param name="Importance">Gives the default rule.</param>
public sealed record RequiredCharacteristic(string Balloon, Requirement Requirement, Importance Importance)
{
    public JudgingRule Rule { get; init; } = Importance.DefaultRule();

    public JudgingTerms Terms { get; init; } = JudgingTerms.Default;

    /// <summary>The size whose bonus adds to the upper limit; null without a modifier.</summary>
    public SizeReference? Size { get; init; }

    /// <summary>Must it be measured at this stage? One that need not be is judged all the same when it was.</summary>
    public bool IsRequired { get; init; } = true;

    /// <summary><c>12</c>, or <c>12.3</c> for the third instance of several.</summary>
    public string NameOf(int instance) => Requirement.Count == 1 ? Balloon : $"{Balloon}.{instance}";
}

/// <summary>One measured value of one instance; the later one of two stands.</summary>
/// <param name="Balloon">Which characteristic.</param>
/// <param name="Instance">1 … count.</param>
/// <param name="Value">In base units; null for attributes and notes.</param>
public sealed record MeasuredValue(string Balloon, int Instance, decimal? Value)
{
    /// <summary>U of this value, in base units; comes before the instrument's.</summary>
    public decimal? ExpandedUncertainty { get; init; }

    public Instrument? Instrument { get; init; }

    /// <summary>For attributes and notes: yes or no.</summary>
    public bool? Passes { get; init; }
}

/// <summary>Two characteristics whose difference, first less second, has a limit of its own (left/right, top/bottom).</summary>
/// <param name="Name">What the pair is called.</param>
/// <param name="First">Balloon.</param>
/// <param name="Second">Balloon.</param>
/// <param name="Difference">Limits of the difference, in base units; symmetric ones make the order indifferent.</param>
public sealed record MatchedPair(string Name, string First, string Second, Limits Difference)
{
    public JudgingRule Rule { get; init; } = JudgingRule.Simple;

    public JudgingTerms Terms { get; init; } = JudgingTerms.Default;
}
