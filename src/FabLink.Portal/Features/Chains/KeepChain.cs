using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Builds;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Chains;

/// <summary>The engineer writes a chain of a build as a whole: what must close, and every link with where its value comes from.</summary>
public static class KeepChain
{
    public const int MostLinks = 100;

    /// <summary>A row of the table as typed; a row without name and source is passed over.</summary>
    public sealed record Link(string? Name = null, string? Sensitivity = null, string? From = null, string? Distribution = null)
    {
        public bool IsBlank => string.IsNullOrWhiteSpace(Name) && string.IsNullOrWhiteSpace(From);
    }

    /// <param name="Id">Null for a new one.</param>
    /// <param name="RowVersion">As the person saw it.</param>
    /// <param name="RequiredYield">In percent.</param>
    public sealed record Request(
        Guid BuildId,
        Guid? Id,
        int RowVersion,
        string? Name,
        string? Closing,
        string? RequiredLower,
        string? RequiredUpper,
        string? RequiredYield,
        string? Seed,
        IReadOnlyList<Link> Links);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private static readonly BuildEntries Entries = new("chain");

        private const string Insert = """
            insert into chain (id, owner_id, build_id, name, closing, required_lower_mm, required_upper_mm, required_yield, seed, created_at, created_by)
            values (@Chain, @OrganisationId, @BuildId, @Name, @Closing, @Lower::numeric, @Upper::numeric, @Yield, @Seed, @now, @PersonId)
            """;

        private const string Update = """
            update chain set name = @Name, closing = @Closing, required_lower_mm = @Lower::numeric, required_upper_mm = @Upper::numeric, required_yield = @Yield, seed = @Seed,
                   row_version = row_version + 1
            where id = @Chain
            """;

        private const string Clear = "delete from chain_link where chain_id = @Chain";

        private const string InsertLink = """
            insert into chain_link (chain_id, owner_id, ordinal, name, sensitivity, distribution, source, part_id, place, balloon, instance,
                                    survey_id, point, other_point, axis, nominal_mm, lower_mm, upper_mm)
            values (@Chain, @OrganisationId, @Ordinal, @Name, @Sensitivity, @Distribution, @Source, @PartId::uuid, @Place::integer, @Balloon::integer, @Instance::integer,
                    @SurveyId::uuid, @Point, @OtherPoint, @Axis, @Nominal::numeric, @Lower::numeric, @Upper::numeric)
            """;

        public async Task<KeepOutcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteChains, Relation.Own))
                return new KeepOutcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await Entries.RefusalAsync(work, request.BuildId, request.Id, request.RowVersion) is { } refusal)
                return refusal;

            var reading = ChainEntry.Read(request, await BuildSources.OfAsync(work, request.BuildId));
            if (reading.Problems.Count == 0 && await Entries.NameTakenAsync(work, request.BuildId, request.Id, reading.Name) is { } taken)
                reading.Problems.Add(taken);
            if (reading.Problems.Count > 0)
                return new KeepOutcome.Wrong(reading.Problems);

            var now = clock.GetUtcNow();
            var chain = request.Id ?? Guid.CreateVersion7(now);
            await work.ExecuteAsync(request.Id is null ? Insert : Update, new
            {
                Chain = chain,
                actor.OrganisationId,
                request.BuildId,
                reading.Name,
                reading.Closing,
                reading.Lower,
                reading.Upper,
                reading.Yield,
                reading.Seed,
                now,
                actor.PersonId,
            });
            await work.ExecuteAsync(Clear, new { Chain = chain });
            for (var i = 0; i < reading.Links.Count; i++)
                await work.ExecuteAsync(InsertLink, Row(actor, chain, i + 1, reading.Links[i]));
            await BuildEntries.LookAgainAsync(work, request.BuildId, now);
            await work.CommitAsync();
            return new KeepOutcome.Kept(chain);
        }

        /// <inheritdoc cref="BuildEntries.RemoveAsync"/>
        public Task<Guid?> RemoveAsync(Actor actor, Guid id, CancellationToken cancellation) => Entries.RemoveAsync(database, actor, id, clock.GetUtcNow(), cancellation);

        private static object Row(Actor actor, Guid chain, int ordinal, ChainEntry.ReadLink link)
        {
            var (piece, survey) = (link.Source as LinkSource.Characteristic, link.Source as LinkSource.Survey);
            var size = survey?.Model ?? (link.Source as LinkSource.Number)?.Size;
            return new
            {
                Chain = chain,
                actor.OrganisationId,
                Ordinal = ordinal,
                link.Name,
                link.Sensitivity,
                link.Distribution,
                Source = piece is not null ? "characteristic" : survey is not null ? "survey" : "number",
                piece?.PartId,
                piece?.Place,
                piece?.Balloon,
                piece?.Instance,
                survey?.SurveyId,
                survey?.Point,
                survey?.OtherPoint,
                survey?.Axis,
                size?.Nominal,
                size?.Lower,
                size?.Upper,
            };
        }
    }
}

/// <summary>Reads the form of a chain; everything that is wrong at once, each with its field.</summary>
internal sealed class ChainEntry
{
    public sealed record ReadLink(string Name, decimal Sensitivity, string Distribution, LinkSource Source);

    public static IReadOnlyList<string> Distributions { get; } = ["normal", "uniform", "triangular"];

    public List<FieldProblem> Problems { get; } = [];

    public string Name { get; private init; } = "";

    public string Closing { get; private init; } = "";

    public decimal? Lower { get; private set; }

    public decimal? Upper { get; private set; }

    public decimal Yield { get; private set; }

    public long Seed { get; private set; } = 1;

    public List<ReadLink> Links { get; } = [];

    public static ChainEntry Read(KeepChain.Request request, BuildSources sources)
    {
        var entry = new ChainEntry { Name = request.Name?.Trim() ?? "", Closing = request.Closing?.Trim() ?? "" };
        entry.ReadHead(request);
        var rows = request.Links.Select((row, i) => (row, i)).Where(pair => !pair.row.IsBlank).ToList();
        if (rows.Count == 0)
            entry.Wrong("Links[0].Name", "A chain needs at least one link.");
        if (rows.Count > KeepChain.MostLinks)
            entry.Wrong("Links[0].Name", $"A chain has at most {KeepChain.MostLinks} links, not {rows.Count}.");
        foreach (var (row, i) in rows)
            entry.ReadRow(row, i, sources);
        return entry;
    }

    private void ReadHead(KeepChain.Request request)
    {
        if (Name.Length is 0 or > 80)
            Wrong(nameof(request.Name), "Name the chain in at most 80 characters, such as rail to rail.");
        if (Closing.Length is 0 or > 80)
            Wrong(nameof(request.Closing), "Say what closes it, such as gap at the right rail.");
        Lower = Number(request.RequiredLower, nameof(request.RequiredLower));
        Upper = Number(request.RequiredUpper, nameof(request.RequiredUpper));
        if (string.IsNullOrWhiteSpace(request.RequiredLower) && string.IsNullOrWhiteSpace(request.RequiredUpper))
            Wrong(nameof(request.RequiredLower), "Give at least one of the two limits that the closing dimension must keep.");
        if (Lower > Upper)
            Wrong(nameof(request.RequiredLower), $"The limits are reversed: {Lower} is above {Upper}.");
        Yield = (Number(string.IsNullOrWhiteSpace(request.RequiredYield) ? "99" : request.RequiredYield, nameof(request.RequiredYield)) ?? 99) / 100;
        if (Yield is not (> 0 and <= 1))
            Wrong(nameof(request.RequiredYield), "The yield is above 0 and at most 100 %.");
        if (!string.IsNullOrWhiteSpace(request.Seed))
        {
            if (long.TryParse(request.Seed.Trim(), out var seed))
                Seed = seed;
            else
                Wrong(nameof(request.Seed), "The seed is a whole number.");
        }
    }

    private void ReadRow(KeepChain.Link row, int i, BuildSources sources)
    {
        string Field(string name) => $"Links[{i}].{name}";
        var name = row.Name?.Trim() ?? "";
        if (name.Length is 0 or > 80)
            Wrong(Field(nameof(row.Name)), $"Row {i + 1}: name the link.");
        else if (Links.Any(link => string.Equals(link.Name, name, StringComparison.OrdinalIgnoreCase)))
            Wrong(Field(nameof(row.Name)), $"Row {i + 1}: there is a link {name} already.");
        var sensitivity = 1m;
        if (!string.IsNullOrWhiteSpace(row.Sensitivity) && !NumberText.TryParse(row.Sensitivity, out sensitivity, out var refusal))
            Wrong(Field(nameof(row.Sensitivity)), $"Row {i + 1}: {refusal}");
        else if (sensitivity == 0)
            Wrong(Field(nameof(row.Sensitivity)), $"Row {i + 1}: a link with sensitivity 0 is no link of this chain.");
        var distribution = string.IsNullOrWhiteSpace(row.Distribution) ? "normal" : Distributions.FirstOrDefault(one => one.StartsWith(row.Distribution.Trim(), StringComparison.OrdinalIgnoreCase));
        if (distribution is null)
            Wrong(Field(nameof(row.Distribution)), $"Row {i + 1}: “{row.Distribution}” is none of {string.Join(", ", Distributions)}.");
        string? why = "say where its value comes from.";
        var source = string.IsNullOrWhiteSpace(row.From) ? null : sources.Read(row.From, out why);
        if (source is null)
            Wrong(Field(nameof(row.From)), $"Row {i + 1}: {why}");
        else if (sources.Find(source) is { OneLimit: true } open)
            Wrong(Field(nameof(row.From)), $"Row {i + 1}: balloon {open.Balloon} of {open.PartNumber} ({open.Requirement}) has only one limit, and a chain needs both.");
        else
            Links.Add(new ReadLink(name, sensitivity, distribution ?? "normal", source));
    }

    private decimal? Number(string? text, string field)
    {
        if (string.IsNullOrWhiteSpace(text))
            return null;
        if (NumberText.TryParse(text, out var value, out var refusal))
            return value;
        Wrong(field, refusal!);
        return null;
    }

    private void Wrong(string field, string message) => Problems.Add(new FieldProblem(field, message));
}
