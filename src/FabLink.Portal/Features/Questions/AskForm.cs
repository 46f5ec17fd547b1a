using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Questions;

/// <summary>What a question can be about: the order, a drawing on it, or one of its characteristics.</summary>
public static class AskForm
{
    private const string RevisionPrefix = "revision ";
    private const string CharacteristicPrefix = "characteristic ";

    public sealed record Page(OrderHead Order, bool OnBehalf, string About, IReadOnlyList<Choice> Choices);

    /// <summary>Reads the choice back.</summary>
    public static (Guid? Revision, Guid? Characteristic) About(string? about) => about switch
    {
        { } text when text.StartsWith(RevisionPrefix, StringComparison.Ordinal) && Guid.TryParse(text[RevisionPrefix.Length..], out var id) => (id, null),
        { } text when text.StartsWith(CharacteristicPrefix, StringComparison.Ordinal) && Guid.TryParse(text[CharacteristicPrefix.Length..], out var id) => (null, id),
        _ => (null, null),
    };

    public sealed class Handler(Database database)
    {
        private const string Subjects = """
            select distinct r.id as revision_id, null::uuid as characteristic_id, d.number || ' ' || r.letter as label, d.number as drawing, r.letter, 0 as balloon
            from work_order_line l join revision r on r.id = l.revision_id join drawing d on d.id = r.drawing_id where l.work_order_id = @id
            union
            select r.id, c.id, d.number || ' ' || r.letter || ', balloon ' || c.balloon || ': ' || c.name || ' ' || c.requirement, d.number, r.letter, c.balloon
            from work_order_line l join revision r on r.id = l.revision_id join drawing d on d.id = r.drawing_id join characteristic c on c.revision_id = r.id
            where l.work_order_id = @id
            order by drawing, letter, balloon
            """;

        private sealed record Subject(Guid RevisionId, Guid? CharacteristicId, string Label, string Drawing, string Letter, int Balloon);

        public async Task<Page?> HandleAsync(Actor actor, Guid id, string? about, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LoadAsync(work, id) is not { } order || !actor.May(Deed.AskQuestion, order.RelationOf(actor)))
                return null;
            var subjects = await work.RowsAsync<Subject>(Subjects, new { id });
            return new Page(
                order,
                order.OnBehalf(actor),
                about ?? "",
                [new Choice("", "The order itself"), .. subjects.Select(subject => new Choice(ValueOf(subject), subject.Label))]);
        }

        private static string ValueOf(Subject subject) =>
            subject.CharacteristicId is { } characteristic ? $"{CharacteristicPrefix}{characteristic}" : $"{RevisionPrefix}{subject.RevisionId}";
    }
}
