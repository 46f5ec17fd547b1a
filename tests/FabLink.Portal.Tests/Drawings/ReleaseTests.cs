using FabLink.Portal.Features.Drawings;
using Npgsql;

namespace FabLink.Portal.Tests.Drawings;

public sealed class ReleaseTests(Workshop shop) : IClassFixture<Workshop>
{
    private static readonly CharacteristicEntry[] Rows =
    [
        new() { Balloon = "1", Requirement = "812 ±2", Stages = "tack, as welded", Class = "critical" },
        new() { Balloon = "12", Requirement = "10× Ø13.5 +0.27/0", Stages = "as welded" },
    ];

    private static CancellationToken Now => TestContext.Current.CancellationToken;

    private Task<ReleaseRevision.Outcome> ReleaseAsync(Guid revision, int version, bool confirmed = false) =>
        shop.Get<ReleaseRevision.Handler>().HandleAsync(shop.Engineer, new ReleaseRevision.Request(revision, version, confirmed), Now);

    private Task<EditCharacteristics.Outcome> EditAsync(Guid revision, int version, params CharacteristicEntry[] rows) =>
        shop.Get<EditCharacteristics.Handler>().HandleAsync(shop.Engineer, new EditCharacteristics.Request(revision, version, rows), Now);

    [Fact]
    public async Task From_a_new_part_to_a_released_revision()
    {
        var part = await shop.PartAsync("RH-110", welded: true, general: "ISO 13920-BF", Rows);

        var released = Assert.IsType<ReleaseRevision.Outcome.Released>(await ReleaseAsync(part.RevisionId, 2));

        Assert.Equal(("A", 0), (released.Letter, released.Told));
        Assert.Equal(2, await shop.AskAsync<long>("select count(*) from characteristic where revision_id = @RevisionId", part));
        Assert.Equal(shop.Engineer.PersonId, await shop.AskAsync<Guid>("select released_by from revision where id = @RevisionId", part));
    }

    [Fact]
    public async Task After_its_release_nothing_of_a_revision_changes_by_any_path()
    {
        var part = await shop.PartAsync("RH-111", rows: Rows);
        Assert.IsType<ReleaseRevision.Outcome.Released>(await ReleaseAsync(part.RevisionId, 2));

        var again = Assert.IsType<ReleaseRevision.Outcome.ReleasedAlready>(await ReleaseAsync(part.RevisionId, 3));
        Assert.Equal("Mara Quill", again.Change.By);
        Assert.IsType<EditCharacteristics.Outcome.ReleasedAlready>(await EditAsync(part.RevisionId, 3, Rows));
        foreach (var attack in new[]
                 {
                     "update revision set note = 'x' where id = @RevisionId",
                     "delete from characteristic where revision_id = @RevisionId",
                     "update characteristic set upper_limit = 9999 where revision_id = @RevisionId",
                 })
            Assert.Equal("FL001", (await Assert.ThrowsAsync<PostgresException>(() => shop.DoAsync(attack, part))).SqlState);
    }

    // ISO 13920:1996, clause 4: the general tolerance is to be stated on the drawing.
    [Fact]
    public async Task A_welded_part_without_a_general_tolerance_is_released_only_when_that_is_confirmed()
    {
        var part = await shop.PartAsync("RH-112", welded: true, general: null, Rows);

        Assert.IsType<ReleaseRevision.Outcome.AsksForGeneralTolerance>(await ReleaseAsync(part.RevisionId, 2));
        Assert.IsType<ReleaseRevision.Outcome.Released>(await ReleaseAsync(part.RevisionId, 2, confirmed: true));
    }

    [Fact]
    public async Task A_revision_without_characteristics_is_not_released()
    {
        var part = await shop.PartAsync("RH-113");

        Assert.IsType<ReleaseRevision.Outcome.NoCharacteristics>(await ReleaseAsync(part.RevisionId, 1));
    }

    [Fact]
    public async Task A_row_whose_limits_are_not_those_of_its_call_out_is_not_released()
    {
        var part = await shop.PartAsync("RH-114", rows: Rows);
        await shop.DoAsync("update characteristic set upper_limit = 815 where balloon = 1 and revision_id = @RevisionId", part);

        var refusal = Assert.IsType<ReleaseRevision.Outcome.Unreadable>(await ReleaseAsync(part.RevisionId, 2));

        Assert.StartsWith("Balloon 1:", Assert.Single(refusal.Problems), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_stale_write_is_told_who_changed_it_and_changes_nothing()
    {
        var part = await shop.PartAsync("RH-115", rows: Rows);

        var stale = Assert.IsType<EditCharacteristics.Outcome.Stale>(await EditAsync(part.RevisionId, 1, Rows[0]));

        Assert.Equal(("Mara Quill", 2), (stale.Change.By, stale.RowVersion));
        Assert.IsType<ReleaseRevision.Outcome.Stale>(await ReleaseAsync(part.RevisionId, 1));
        Assert.Equal(2, await shop.AskAsync<long>("select count(*) from characteristic where revision_id = @RevisionId", part));
    }

    [Fact]
    public async Task Saving_the_table_writes_only_the_rows_that_say_something_else()
    {
        var part = await shop.PartAsync("RH-116", rows: Rows);

        Assert.IsType<EditCharacteristics.Outcome.Saved>(await EditAsync(part.RevisionId, 2, Rows[0] with { Requirement = "812 ±1" }, Rows[1]));
        Assert.IsType<EditCharacteristics.Outcome.Saved>(await EditAsync(part.RevisionId, 3, Rows[1]));

        var actions = await shop.AskAsync<string>(
            "select string_agg(action || ' ' || coalesce(after ->> 'balloon', before ->> 'balloon'), ', ' order by id) from audit where table_name = 'characteristic' and coalesce(after, before) ->> 'revision_id' = @id",
            new { id = part.RevisionId.ToString() });
        Assert.Equal("insert 1, insert 12, update 1, delete 1", actions);
    }

    [Fact]
    public async Task Rows_with_problems_save_nothing()
    {
        var part = await shop.PartAsync("RH-117", rows: Rows);

        var wrong = Assert.IsType<EditCharacteristics.Outcome.Wrong>(await EditAsync(part.RevisionId, 2, Rows[0], new() { Balloon = "2", Requirement = "12 ±", Stages = "tack" }));

        Assert.Equal((1, "Requirement"), (wrong.Problems[0].Row, wrong.Problems[0].Field));
        Assert.Equal(2, await shop.AskAsync<int>("select row_version from revision where id = @RevisionId", part));
    }

    [Fact]
    public async Task A_number_is_given_once()
    {
        var part = await shop.PartAsync("RH-118");

        var taken = Assert.IsType<CreatePart.Outcome.PartNumberTaken>(await shop.Get<CreatePart.Handler>().HandleAsync(shop.Engineer, new("RH-118 ", "Again"), Now));
        Assert.Equal(part.PartId, taken.PartId);
        Assert.IsType<CreatePart.Outcome.DrawingNumberTaken>(
            await shop.Get<CreatePart.Handler>().HandleAsync(shop.Engineer, new("RH-118-2", "Again", DrawingNumber: "RH-118"), Now));
        Assert.Equal(0, await shop.AskAsync<long>("select count(*) from part where number = 'RH-118-2'"));
        Assert.IsType<CreateDrawing.Outcome.NumberTaken>(
            await shop.Get<CreateDrawing.Handler>().HandleAsync(shop.Engineer, new(part.PartId, "RH-118", "Flat pattern"), Now));
    }

    [Fact]
    public async Task Another_organisation_finds_nothing_and_a_wrong_role_may_not()
    {
        var part = await shop.PartAsync("RH-119", rows: Rows);
        var edit = new EditCharacteristics.Request(part.RevisionId, 2, Rows);
        var release = new ReleaseRevision.Request(part.RevisionId, 2);

        Assert.IsType<EditCharacteristics.Outcome.NotFound>(await shop.Get<EditCharacteristics.Handler>().HandleAsync(shop.OtherEngineer, edit, Now));
        Assert.IsType<ReleaseRevision.Outcome.NotFound>(await shop.Get<ReleaseRevision.Handler>().HandleAsync(shop.OtherEngineer, release, Now));
        Assert.IsType<CreateDrawing.Outcome.NotFound>(
            await shop.Get<CreateDrawing.Handler>().HandleAsync(shop.OtherEngineer, new(part.PartId, "X", "X"), Now));
        foreach (var actor in new[] { shop.Buyer, shop.Fabricator, shop.Coater })
        {
            Assert.IsType<EditCharacteristics.Outcome.NotAllowed>(await shop.Get<EditCharacteristics.Handler>().HandleAsync(actor, edit, Now));
            Assert.IsType<ReleaseRevision.Outcome.NotAllowed>(await shop.Get<ReleaseRevision.Handler>().HandleAsync(actor, release, Now));
            Assert.IsType<CreatePart.Outcome.NotAllowed>(await shop.Get<CreatePart.Handler>().HandleAsync(actor, new("Z-1", "Z"), Now));
        }
    }

    [Theory]
    [InlineData("", "Cradle", null, "mm", null, "Number")]
    [InlineData("RH-1", "", null, "mm", null, "Name")]
    [InlineData("RH-1", "Cradle", "both", "mm", null, "Hand")]
    [InlineData("RH-1", "Cradle", null, "ft", null, "Unit")]
    [InlineData("RH-1", "Cradle", null, "mm", "ISO 13920-Z", "GeneralTolerance")]
    public void Bad_input_is_told_beside_its_field(string number, string name, string? hand, string unit, string? general, string field)
    {
        var failures = new CreatePart.Validator().Validate(new CreatePart.Request(number, name, hand, Unit: unit, GeneralTolerance: general)).Errors;

        Assert.Equal(field, Assert.Single(failures).PropertyName);
    }
}
