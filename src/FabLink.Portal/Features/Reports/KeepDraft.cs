using System.Text.Json;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Reports;

/// <summary>Half-typed work of one person at one piece and stage: kept as typed, right or wrong, until it is submitted.</summary>
public static class KeepDraft
{
    /// <param name="Value">As typed.</param>
    public sealed record Entry(string Value, string Uncertainty, string Note)
    {
        public bool IsEmpty => Value.Length == 0 && Uncertainty.Length == 0 && Note.Length == 0;
    }

    /// <param name="Entries">By characteristic and instance: <c>id:instance</c>.</param>
    /// <param name="Instrument">The one that was chosen last.</param>
    public sealed record Draft(Dictionary<string, Entry> Entries, string Instrument, string Note)
    {
        public static Draft Empty { get; } = new([], "", "");

        /// <summary>When it was kept; null when nothing is.</summary>
        [System.Text.Json.Serialization.JsonIgnore]
        public DateTimeOffset? SavedAt { get; init; }
    }

    public static string KeyOf(Guid characteristic, int instance) => $"{characteristic:n}:{instance}";

    public static async Task<Draft> ReadAsync(Work work, Guid pieceId, string stage)
    {
        const string Select = "select body::text as body, saved_at from draft where person_id = @PersonId and piece_id = @pieceId and stage = @stage";
        return await work.RowAsync<Row>(Select, new { work.Actor.PersonId, pieceId, stage }) is { } row && JsonSerializer.Deserialize<Draft>(row.Body) is { } draft
            ? draft with { SavedAt = row.SavedAt }
            : Draft.Empty;
    }

    /// <summary>What a submitted file brought is typed no more; the rest of what this person has half typed of those pieces stays.</summary>
    public static async Task LeaveOutAsync(Work work, IEnumerable<SubmitReport.PieceValues> brought, string stage)
    {
        const string Kept = "select piece_id from draft where person_id = @PersonId and stage = @stage and piece_id = any(@ids)";
        const string LeaveOut = "update draft set body = jsonb_set(body, '{Entries}', (body -> 'Entries') - @keys) where person_id = @PersonId and piece_id = @PieceId and stage = @stage";
        const string Drop = "delete from draft where person_id = @PersonId and piece_id = @PieceId and stage = @stage and body -> 'Entries' = '{}' and body ->> 'Note' = ''";
        var values = brought.ToDictionary(piece => piece.PieceId, piece => piece.Values);
        foreach (var piece in await work.RowsAsync<Guid>(Kept, new { work.Actor.PersonId, stage, ids = values.Keys.ToArray() }))
        {
            var of = new { work.Actor.PersonId, PieceId = piece, stage, keys = values[piece].Select(value => KeyOf(value.CharacteristicId, value.Instance)).ToArray() };
            await work.ExecuteAsync(LeaveOut, of);
            await work.ExecuteAsync(Drop, of);
        }
    }

    private sealed record Row(string Body, DateTimeOffset SavedAt);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Upsert = """
            insert into draft (piece_id, stage, person_id, body, saved_at) values (@pieceId, @stage, @PersonId, @Body::jsonb, @Now)
            on conflict (person_id, piece_id, stage) do update set body = excluded.body, saved_at = excluded.saved_at
            """;

        /// <returns>False when there is no such piece for this person.</returns>
        public async Task<bool> HandleAsync(Actor actor, Guid pieceId, string stage, Draft draft, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await Measuring.PieceAsync(work, pieceId) is not { } piece || !actor.May(Deed.SubmitReport, piece.RelationOf(actor)))
                return false;
            // A NUL has no place in PostgreSQL's text; nothing else that a person can type is lost.
            var body = JsonSerializer.Serialize(draft).Replace("\\u0000", "", StringComparison.Ordinal);
            await work.ExecuteAsync(Upsert, new { pieceId, stage, actor.PersonId, Body = body, Now = clock.GetUtcNow() });
            await work.CommitAsync();
            return true;
        }
    }
}
