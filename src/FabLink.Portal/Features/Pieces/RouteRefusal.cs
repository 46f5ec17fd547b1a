using Npgsql;

namespace FabLink.Portal.Features.Pieces;

/// <summary>Why the database would not let a piece go on, as a sentence for the person who tried.</summary>
/// <param name="Code">The database's own code: FL002 to FL006, FL008 to FL010, FL012, FL013, FL015, FL016.</param>
public sealed record RouteRefusal(string Code, string Sentence)
{
    /// <summary>The refusal in an error of PostgreSQL, or null when it is some other error, which then is nobody's to swallow.</summary>
    public static RouteRefusal? From(PostgresException error) => error.SqlState switch
    {
        "FL002" => new(error.SqlState, $"An earlier step comes first: {error.MessageText}."),
        "FL003" => new(error.SqlState, $"The piece is {error.MessageText}. Nothing starts before the hold is released."),
        "FL004" => new(error.SqlState, $"{Capital(error.MessageText)}. The piece goes on when the witness has come or the notice time is over."),
        "FL005" => new(error.SqlState, $"{Capital(error.MessageText)}. The engineer of the build shop decides what is done with the piece."),
        "FL006" => new(error.SqlState, $"The gate stays closed: {error.MessageText}."),
        "FL012" => new(error.SqlState, $"{Capital(error.MessageText)}. See the correction sheet of the piece; the hold is lifted when it is measured again and the joint bolts up, or by the engineer of the build shop."),
        "FL010" => new(error.SqlState, $"{Capital(error.MessageText)}: nothing of it starts."),
        "FL013" => new(error.SqlState, $"{Capital(error.MessageText)}, after the report that just came. Try again in a moment."),
        "FL015" => new(error.SqlState, $"{Capital(error.MessageText)}: nothing more is done with it."),
        "FL016" => new(error.SqlState, $"{Capital(error.MessageText)}: another step of it has begun elsewhere."),
        "FL008" => new(error.SqlState, $"{Capital(error.MessageText)}."),
        _ => null,
    };

    /// <param name="order">Null for whoever does not see it.</param>
    public static RouteRefusal Cancelled(string? order, string why) =>
        new("FL015", $"{order ?? "Its order"} is cancelled: {WorkOrders.OrderStanding.Sentence(why)} Nothing more is done with the piece.");

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
