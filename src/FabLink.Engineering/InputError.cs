namespace FabLink.Engineering;

/// <summary>
/// What was asked cannot be answered: the message says which row and field and what to change.
/// </summary>
/// <param name="field">
/// Where the fault is, as a JSON pointer without the leading slash (<c>holes/3/a/diameter</c>);
/// empty when it is the question as a whole.
/// </param>
/// <param name="message">One sentence for the person who typed it.</param>
public sealed class InputError(string field, string message) : Exception(message)
{
    /// <summary>JSON pointer without the leading slash, or empty.</summary>
    public string Field { get; } = field;

    /// <summary>The same fault seen from one level further out: <c>x</c> becomes <c>holes/3/x</c>.</summary>
    public InputError Within(string outer) =>
        new(Field.Length == 0 ? outer : $"{outer}/{Field}", Message);
}
