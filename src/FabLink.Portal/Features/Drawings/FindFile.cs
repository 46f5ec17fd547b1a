using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>One file of a revision for whoever may see it: its owner, a shop that makes the part or has a step of it, a coater the mask map.</summary>
public static class FindFile
{
    public sealed record Row(string Name, string FileType, string Sha256);

    public sealed class Handler(Database database)
    {
        private const string Select = """
            select name, file_type, sha256 from revision_file where id = @file
            """;

        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Row?> HandleAsync(Actor actor, Guid file, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<Row>(Select, new { file });
        }
    }
}
