namespace FabLink.Engineering.Judging;

/// <summary>How much hangs on a characteristic.</summary>
public enum Importance
{
    Minor,
    Major,
    Critical,
}

public static class ImportanceRules
{
    /// <summary>The rule when nobody chose another: simple for minor, guarded for major and critical.</summary>
    public static JudgingRule DefaultRule(this Importance importance) =>
        importance == Importance.Minor ? JudgingRule.Simple : JudgingRule.Guarded;
}
