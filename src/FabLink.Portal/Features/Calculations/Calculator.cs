using System.Text.Json;
using FabLink.Engineering;

namespace FabLink.Portal.Features.Calculations;

/// <summary>
/// One stateless calculation: what the API, its description and the bench say about it, and how it is answered. The kinds of
/// question and answer are the JSON bodies themselves.
/// </summary>
/// <param name="Name">Last part of the address: <c>bolt-up</c>.</param>
/// <param name="Title">As the bench names it.</param>
/// <param name="Summary">What a person learns from it, one sentence.</param>
/// <param name="Limits">The largest question that is answered, in words.</param>
/// <param name="Example">A question that is answered, as JSON.</param>
public abstract record Calculator(string Name, string Title, string Summary, string Limits, string Example)
{
    public abstract Type Question { get; }

    public abstract Type Answer { get; }

    /// <summary>Page of the bench that asks the same.</summary>
    public string Page => "/bench/" + Name;

    /// <returns>The answer, ready to be sent.</returns>
    /// <exception cref="InputError">The question cannot be answered; the field is named.</exception>
    /// <exception cref="JsonException">The body is no question of this kind.</exception>
    public abstract Task<byte[]> AnswerAsync(Stream body, CancellationToken cancellation);
}

/// <inheritdoc/>
internal sealed record Calculator<TQuestion, TAnswer>(
    string Name, string Title, string Summary, string Limits, string Example, Func<TQuestion, CancellationToken, TAnswer> Run)
    : Calculator(Name, Title, Summary, Limits, Example)
{
    public override Type Question => typeof(TQuestion);

    public override Type Answer => typeof(TAnswer);

    public override async Task<byte[]> AnswerAsync(Stream body, CancellationToken cancellation)
    {
        var question = await JsonSerializer.DeserializeAsync<TQuestion>(body, CalculationJson.Options, cancellation)
            ?? throw new InputError("", "The question is null; it is an object.");
        await CalculationJson.Room.WaitAsync(cancellation);
        try
        {
            return JsonSerializer.SerializeToUtf8Bytes(Run(question, cancellation), CalculationJson.Options);
        }
        catch (Exception overflow) when (overflow is OverflowException or ArgumentException { Source: "System.Text.Json" })
        {
            throw new InputError("", "The numbers are so large that the answer is not a finite number.");
        }
        finally
        {
            CalculationJson.Room.Release();
        }
    }
}
