namespace FabLink.Engineering.Tolerances;

/// <summary>A requirement that cannot be understood: which character, and what was expected there.</summary>
/// <param name="position">The character at fault, counted from 0 in the text as it was given.</param>
/// <param name="message">One sentence for the person who typed it; the character is named in it, counted from 1.</param>
public sealed class RequirementError(int position, string message) : Exception($"Character {position + 1}: {message}")
{
    public int Position { get; } = position;

    public InputError At(string field) => new(field, Message);
}
