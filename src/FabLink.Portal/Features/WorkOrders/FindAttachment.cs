using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>A kept photo or paper, for who may see it.</summary>
public static class FindAttachment
{
    public sealed record Row(string Name, string FileType, string Sha256);

    public sealed class Handler(Database database)
    {
        private const string Select = "select name, file_type, sha256 from attachment where id = @id";

        public async Task<Row?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<Row>(Select, new { id });
        }
    }
}
