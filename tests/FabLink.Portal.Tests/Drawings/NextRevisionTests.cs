using FabLink.Portal.Features.Drawings;

namespace FabLink.Portal.Tests.Drawings;

public sealed class NextRevisionTests(Workshop shop) : IClassFixture<Workshop>
{
    private static readonly CharacteristicEntry[] Rows =
    [
        new() { Balloon = "1", Requirement = "812", Stages = "tack, as welded", Class = "critical" },
        new() { Balloon = "2", Requirement = "4× Ø13.5 +0.27/0", Stages = "as welded, after coat" },
    ];

    private static CancellationToken Now => TestContext.Current.CancellationToken;

    private async Task<CreatePart.Outcome.Created> ReleasedAsync(string number)
    {
        var part = await shop.PartAsync(number, rows: Rows);
        Assert.IsType<ReleaseRevision.Outcome.Released>(await ReleaseAsync(part.RevisionId, 2));
        return part;
    }

    private Task<ReleaseRevision.Outcome> ReleaseAsync(Guid revision, int version) =>
        shop.Get<ReleaseRevision.Handler>().HandleAsync(shop.Engineer, new ReleaseRevision.Request(revision, version), Now);

    private Task<NewRevision.Outcome> NextAsync(Guid drawing) =>
        shop.Get<NewRevision.Handler>().HandleAsync(shop.Engineer, new NewRevision.Request(drawing, "Pad moved 2 mm", WithFiles: true), Now);

    private Task<ShowRevision.Sheet?> ShowAsync(FabLink.Portal.Platform.People.Actor actor, Guid revision) =>
        shop.Get<ShowRevision.Handler>().HandleAsync(actor, revision, Now);

    [Fact]
    public async Task The_next_revision_begins_as_a_copy_and_the_last_one_stays_as_it_was()
    {
        var part = await ReleasedAsync("RH-120");
        await shop.DoAsync("alter table revision_file disable trigger released_is_final");
        await shop.DoAsync(
            """
            insert into revision_file (id, owner_id, revision_id, purpose, name, file_type, sha256, size, added_at, added_by)
            select gen_random_uuid(), owner_id, id, 'drawing', 'RH-120 A.pdf', 'pdf', repeat('a', 64), 10, now(), created_by from revision where id = @RevisionId
            """,
            part);
        await shop.DoAsync("alter table revision_file enable trigger released_is_final");

        var next = Assert.IsType<NewRevision.Outcome.Created>(await NextAsync(part.DrawingId));

        Assert.Equal("B", next.Letter);
        var (old, copy) = ((await ShowAsync(shop.Engineer, part.RevisionId))!, (await ShowAsync(shop.Engineer, next.RevisionId))!);
        Assert.Equal("Pad moved 2 mm", copy.Head.Note);
        Assert.True(copy.IsDraft);
        Assert.All(old.Characteristics.Zip(copy.Characteristics), pair => Assert.True(pair.First.SaysTheSameAs(pair.Second)));
        Assert.Equal("RH-120 A.pdf", Assert.Single(copy.Files).Name);
        Assert.NotEqual(old.Files[0].Id, copy.Files[0].Id);
    }

    [Fact]
    public async Task There_is_one_draft_at_a_time_also_when_two_begin_at_once()
    {
        var part = await ReleasedAsync("RH-121");

        var outcomes = await Task.WhenAll(NextAsync(part.DrawingId), NextAsync(part.DrawingId));

        Assert.Single(outcomes.OfType<NewRevision.Outcome.Created>());
        Assert.Equal("B", Assert.Single(outcomes.OfType<NewRevision.Outcome.DraftExists>()).Letter);
    }

    [Fact]
    public async Task Pieces_in_work_are_shown_where_they_are_and_those_who_have_them_are_told_once_at_release()
    {
        var part = await ReleasedAsync("RH-122");
        var order = await shop.OrderAsync(part.RevisionId, shop.Fabricator, "RH-122-001");

        var before = (await shop.Get<ShowDrawing.Handler>().HandleAsync(shop.Engineer, part.DrawingId, Now))!;
        var piece = Assert.Single(before.Pieces);
        Assert.Equal(("RH-122-001", "A", "in work: cut", "Holm Lane Fabrication"), (piece.Piece.Serial, piece.Piece.Letter, piece.Where, piece.With));

        var next = Assert.IsType<NewRevision.Outcome.Created>(await NextAsync(part.DrawingId));
        Assert.Equal("in work: cut", Assert.Single((await ShowAsync(shop.Engineer, next.RevisionId))!.Pieces).Where);
        var released = Assert.IsType<ReleaseRevision.Outcome.Released>(await ReleaseAsync(next.RevisionId, 1));

        Assert.Equal(("B", 1), (released.Letter, released.Told));
        var body = await shop.AskAsync<string>(
            "select body from notice where work_order_id = @order and person_id = @PersonId", new { order, shop.Fabricator.PersonId });
        Assert.Contains("RH-122-001, revision A: in work: cut", body, StringComparison.Ordinal);
        Assert.Equal(1, await shop.AskAsync<long>("select count(*) from notice where work_order_id = @order", new { order }));
    }

    [Fact]
    public async Task A_shop_sees_the_revision_it_was_given_whole_a_coater_only_what_concerns_it_and_a_rival_nothing()
    {
        var part = await ReleasedAsync("RH-123");
        Assert.Null(await ShowAsync(shop.Fabricator, part.RevisionId));
        await shop.OrderAsync(part.RevisionId, shop.Fabricator, "RH-123-001");

        var made = (await ShowAsync(shop.Fabricator, part.RevisionId))!;
        var coated = (await ShowAsync(shop.Coater, part.RevisionId))!;

        Assert.Equal(2, made.Characteristics.Count);
        Assert.Equal(2, Assert.Single(coated.Characteristics).Balloon);
        Assert.False(made.MayWrite || coated.MayWrite || made.MayRelease);
        Assert.Null(await ShowAsync(shop.Rival, part.RevisionId));
        Assert.Null(await ShowAsync(shop.OtherEngineer, part.RevisionId));
        var parts = await shop.Get<ListParts.Handler>().HandleAsync(shop.Coater, "RH-123", 1, Now);
        Assert.Equal(("A", null), (Assert.Single(parts).Released, parts[0].Drawing));
        Assert.Empty(await shop.Get<ListParts.Handler>().HandleAsync(shop.Rival, null, 1, Now));
    }

    [Fact]
    public async Task A_shop_learns_that_its_revision_was_followed_by_another_but_not_what_that_one_says()
    {
        var part = await ReleasedAsync("RH-124");
        await shop.OrderAsync(part.RevisionId, shop.Fabricator, "RH-124-001");
        var next = Assert.IsType<NewRevision.Outcome.Created>(await NextAsync(part.DrawingId));
        Assert.Null((await ShowAsync(shop.Fabricator, part.RevisionId))!.Head.NewerLetter);

        await ReleaseAsync(next.RevisionId, 1);

        Assert.Equal("B", (await ShowAsync(shop.Fabricator, part.RevisionId))!.Head.NewerLetter);
        Assert.Null(await ShowAsync(shop.Fabricator, next.RevisionId));
    }

    // ISO 2768-1:1989, Table 1, over 400 to 1000: m ±0.8, c ±2
    [Fact]
    public async Task Another_general_tolerance_gives_the_blanks_other_limits()
    {
        var part = await shop.PartAsync("RH-125", general: "ISO 2768-m", rows: Rows);
        var edit = shop.Get<EditRevision.Handler>();

        var saved = Assert.IsType<EditRevision.Outcome.Saved>(
            await edit.HandleAsync(shop.Engineer, new EditRevision.Request(part.RevisionId, 2, "mm", "ISO 2768-c", false, "coarser"), Now));

        Assert.Equal([1], saved.Changed);
        Assert.Equal(814m, await shop.AskAsync<decimal>("select upper_limit from characteristic where revision_id = @RevisionId and balloon = 1", part));
        var none = Assert.IsType<EditRevision.Outcome.Unreadable>(
            await edit.HandleAsync(shop.Engineer, new EditRevision.Request(part.RevisionId, 3, "mm", "", false, ""), Now));
        Assert.StartsWith("Balloon 1:", Assert.Single(none.Problems), StringComparison.Ordinal);
        Assert.IsType<EditRevision.Outcome.Stale>(
            await edit.HandleAsync(shop.Engineer, new EditRevision.Request(part.RevisionId, 2, "mm", "ISO 2768-m", false, ""), Now));
        Assert.IsType<EditRevision.Outcome.NotFound>(
            await edit.HandleAsync(shop.OtherEngineer, new EditRevision.Request(part.RevisionId, 3, "mm", "ISO 2768-m", false, ""), Now));
    }
}
