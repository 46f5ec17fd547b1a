using System.Net;
using Dapper;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Microsoft.AspNetCore.Identity;
using Npgsql;

namespace FabLink.Portal.Tests.Security;

/// <summary>
/// The demo's build shop, its two fabricators and its coater, and a second build shop with a fabricator of its own that knows none of them.
/// Everything that is attacked belongs to Dunlin's work order.
/// </summary>
public sealed class TwoShops : IAsyncLifetime
{
    private readonly Dictionary<string, (string Email, Guess Client)> _clients = [];
    private PortalUnderTest? _portal;
    private DataSources? _sources;

    public PortalUnderTest Portal => _portal!;

    public DataSources Sources => _sources!;

    public Database Database { get; private set; } = null!;

    public string Owner => Portal.Database.OwnerConnectionString;

    public Actor Engineer { get; private set; } = null!;

    public Actor Buyer { get; private set; } = null!;

    public Actor Shop { get; private set; } = null!;

    public Actor OtherShop { get; private set; } = null!;

    public Actor Coater { get; private set; } = null!;

    /// <summary>Of the first build shop, with no role at all.</summary>
    public Actor Visitor { get; private set; } = null!;

    /// <summary>Engineer and buyer of the second build shop.</summary>
    public Actor OtherOwner { get; private set; } = null!;

    /// <summary>One row of each noun, all of Dunlin's work order, by the name that the routes use.</summary>
    public IReadOnlyDictionary<string, string> Ids { get; private set; } = null!;

    public async ValueTask InitializeAsync()
    {
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string>
        {
            ["Demo:Seed"] = "true",
            ["Demo:SampleData"] = Repository.PathTo("sample-data"),
            ["SignIn:PerMinute"] = "1000",
        }));
        _sources = new DataSources(Owner);
        Database = new Database(_sources);
        await using var owner = await OpenAsync();
        Visitor = await AddAsync(owner, "Saltmarsh Works", "build shop", "Gil Visitor", "gil@saltmarsh.example", []);
        OtherOwner = await AddAsync(owner, "Otter Machines", "build shop", "Finn Otter", "finn@otter.example", ["engineer", "buyer"]);
        Engineer = await KnownAsync(owner, "mara@saltmarsh.example");
        Buyer = await KnownAsync(owner, "edda@saltmarsh.example");
        Shop = await KnownAsync(owner, "wren@dunlin.example");
        OtherShop = await KnownAsync(owner, "joss@holmlane.example");
        Coater = await KnownAsync(owner, "ivo@teal.example");
        var colleague = await AddAsync(owner, "Dunlin Profile & Weld", "fabricator", "Ada Colleague", "ada@dunlin.example", ["fabricator"]);
        Ids = new Dictionary<string, string>(await IdsAsync(owner)) { ["colleague"] = $"{colleague.PersonId}" };
    }

    public async ValueTask DisposeAsync()
    {
        foreach (var (_, client) in _clients.Values)
            client.Dispose();
        if (_sources is not null)
            await _sources.DisposeAsync();
        if (_portal is not null)
            await _portal.DisposeAsync();
    }

    public async Task<NpgsqlConnection> OpenAsync()
    {
        var connection = new NpgsqlConnection(Owner);
        await connection.OpenAsync();
        return connection;
    }

    /// <summary>Fills <c>{line}</c> and the like in a path or a field.</summary>
    public string Fill(string text) => Ids.Aggregate(text, (filled, id) => filled.Replace($"{{{id.Key}}}", id.Value, StringComparison.Ordinal));

    /// <summary>Somebody at the wire: cookies, no redirects, the form token of a page they may open.</summary>
    public async Task<Guess> AtWireAsync(Actor? actor)
    {
        var name = actor?.Name ?? "";
        if (_clients.TryGetValue(name, out var known))
            return known.Client;
        var client = new Guess(Portal.Address);
        var email = "";
        if (actor is not null)
        {
            await using var owner = await OpenAsync();
            email = (await owner.ExecuteScalarAsync<string>("select email from credential where person_id = @PersonId", new { actor.PersonId }))!;
            await client.SignInAsync(email, DemoPeople.Password);
        }
        _clients[name] = (email, client);
        return client;
    }

    private static async Task<Actor> AddAsync(NpgsqlConnection owner, string organisation, string kind, string name, string email, string[] roles)
    {
        const string Sql = """
            with made as (insert into organisation (id, name, kind, created_at) values (@fresh, @organisation, @kind, now()) on conflict (name) do nothing returning id),
                 home as (select id from made union all select id from organisation where name = @organisation),
                 somebody as (insert into person (id, organisation_id, name, roles, created_at) select @person, id, @name, @roles, now() from home returning id, organisation_id)
            insert into credential (person_id, organisation_id, email, password_hash, security_stamp) select id, organisation_id, @email, @hash, 'stamp' from somebody
            """;
        var hash = new PasswordHasher<SignInPerson>().HashPassword(new SignInPerson(), DemoPeople.Password);
        await owner.ExecuteAsync(Sql, new { fresh = Guid.CreateVersion7(), person = Guid.CreateVersion7(), organisation, kind, name, email, roles, hash });
        return await KnownAsync(owner, email);
    }

    private static async Task<Actor> KnownAsync(NpgsqlConnection owner, string email)
    {
        const string Sql = """
            select p.id, o.id as organisation_id, p.name, o.name as organisation_name, o.kind, p.roles
            from credential c join person p on p.id = c.person_id join organisation o on o.id = p.organisation_id where c.email = @email
            """;
        var row = await owner.QuerySingleAsync<PersonRow>(Sql, new { email });
        return new Actor(row.Id, row.OrganisationId, row.Name, row.OrganisationName, row.Kind, Actor.ParseRoles(row.Roles));
    }

    private sealed record PersonRow(Guid Id, Guid OrganisationId, string Name, string OrganisationName, string Kind, string[] Roles);

    private async Task<IReadOnlyDictionary<string, string>> IdsAsync(NpgsqlConnection owner)
    {
        var extra = new
        {
            draft = Guid.CreateVersion7(),
            question = Guid.CreateVersion7(),
            slip = Guid.CreateVersion7(),
            attachment = Guid.CreateVersion7(),
            draftOrder = Guid.CreateVersion7(),
            spareJoint = Guid.CreateVersion7(),
            chain = Guid.CreateVersion7(),
            removableChain = Guid.CreateVersion7(),
            pair = Guid.CreateVersion7(),
            removablePair = Guid.CreateVersion7(),
            owner = Engineer.OrganisationId,
            shop = Shop.OrganisationId,
            maker = Shop.PersonId,
            by = Engineer.PersonId,
        };
        const string Make = """
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by)
            select @draft, r.owner_id, r.drawing_id, r.part_id, 'B', false, now(), @by from revision r join part t on t.id = r.part_id where t.number = 'RH-150';
            insert into question (id, work_order_id, body, asked_at, asked_by) select @question, id, 'Which side up?', now(), @maker from work_order where shop_id = @shop;
            insert into packing_slip (id, work_order_id, number, shipped_at, shipped_by) select @slip, id, 'PS-1', now(), @maker from work_order where shop_id = @shop;
            insert into attachment (id, work_order_id, organisation_id, name, file_type, sha256, size, added_at, added_by)
            select @attachment, w.id, @shop, 'print.pdf', f.file_type, f.sha256, f.size, now(), @maker
            from work_order w, (select * from revision_file where name like '%.pdf' limit 1) f where w.shop_id = @shop;
            insert into joint (id, owner_id, build_id, name, part_id, pattern, mate_survey_id, created_at, created_by)
            select @spareJoint, owner_id, build_id, 'to be removed', part_id, pattern, mate_survey_id, now(), @by from joint limit 1;
            insert into work_order (id, owner_id, shop_id, number, created_at, created_by) values (@draftOrder, @owner, @shop, 'WO-draft', now(), @by);
            insert into chain (id, owner_id, build_id, name, closing, required_lower_mm, required_yield, seed, created_at, created_by)
            select c.id, @owner, b.id, c.name, 'gap', 0, 0.99, 1, now(), @by from (select id from build where owner_id = @owner limit 1) b, (values (@chain, 'walked'), (@removableChain, 'removed')) c (id, name);
            insert into chain_link (chain_id, owner_id, ordinal, name, sensitivity, distribution, source, nominal_mm, lower_mm, upper_mm)
            select c.id, @owner, 1, 'shim', 1, 'normal', 'number', 1, 0, 0 from (values (@chain), (@removableChain)) c (id);
            insert into pair (id, owner_id, build_id, name, left_part_id, left_place, left_balloon, left_instance, right_part_id, right_place, right_balloon, right_instance, within, unit, rule, created_at, created_by)
            select c.id, @owner, b.id, c.name, l.id, 1, 1, 1, r.id, 1, 1, 1, 1, 'mm', 'simple', now(), @by
            from (select id from build where owner_id = @owner limit 1) b, part l, part r, (values (@pair, 'walked'), (@removablePair, 'removed')) c (id, name) where l.number = 'RH-120' and r.number = 'RH-121';
            """;
        // Written as the engineer would, so that the record says who did it.
        await using (var transaction = await owner.BeginTransactionAsync())
        {
            await owner.ExecuteAsync("select set_config('fablink.person', @by::text, true), set_config('fablink.organisation', @owner::text, true)", extra, transaction);
            await owner.ExecuteAsync(Make, extra, transaction);
            await transaction.CommitAsync();
        }
        const string Find = """
            select 'order' as name, id::text as id from work_order where shop_id = @shop and issued_at is not null
            union all select 'line', n.id::text from nonconformance x join piece p on p.id = x.piece_id join work_order_line n on n.id = p.line_id join work_order w on w.id = p.work_order_id where w.shop_id = @shop
            union all select 'piece', x.piece_id::text from nonconformance x join work_order w on w.id = x.work_order_id where w.shop_id = @shop
            union all select 'report', x.report_id::text from nonconformance x join work_order w on w.id = x.work_order_id where w.shop_id = @shop
            union all select 'nonconformance', x.id::text from nonconformance x join work_order w on w.id = x.work_order_id where w.shop_id = @shop
            union all select 'upload', (select id::text from upload where organisation_id = @shop limit 1)
            union all select 'part', id::text from part where number = 'RH-150'
            union all select 'drawing', r.drawing_id::text from revision r where r.id = @draft
            union all select 'revision', r.id::text from revision r join part t on t.id = r.part_id where t.number = 'RH-150' and r.letter = 'A'
            union all select 'file', (select f.id::text from revision_file f join revision r on r.id = f.revision_id join part t on t.id = r.part_id where t.number = 'RH-150' and f.purpose <> 'mask map' limit 1)
            union all select 'characteristic', (select c.id::text from characteristic c join piece p on p.revision_id = c.revision_id join nonconformance x on x.piece_id = p.id
                                                join work_order w on w.id = x.work_order_id where w.shop_id = @shop and 'tack' = any(c.stages) limit 1)
            union all select 'notice', (select id::text from notice where person_id = @maker limit 1)
            union all select 'step', (select s.id::text from piece_step s join nonconformance x on x.piece_id = s.piece_id where s.organisation_id = @shop and s.started_at is null order by s.ordinal limit 1)
            union all select 'instrument', (select id::text from instrument where organisation_id = @shop limit 1)
            union all select 'build', (select id::text from build limit 1)
            union all select 'joint', (select id::text from joint where id <> @spareJoint limit 1)
            union all select 'survey', (select id::text from survey limit 1)
            """;
        var ids = (await owner.QueryAsync<(string Name, string Id)>(Find, extra)).GroupBy(row => row.Name).ToDictionary(row => row.Key, row => row.First().Id);
        ids["draft"] = extra.draft.ToString();
        ids["question"] = extra.question.ToString();
        ids["slip"] = extra.slip.ToString();
        ids["attachment"] = extra.attachment.ToString();
        ids["spare joint"] = extra.spareJoint.ToString();
        ids["draft order"] = extra.draftOrder.ToString();
        ids["chain"] = extra.chain.ToString();
        ids["removable chain"] = extra.removableChain.ToString();
        ids["pair"] = extra.pair.ToString();
        ids["removable pair"] = extra.removablePair.ToString();
        ids["shop"] = extra.shop.ToString();
        ids["person"] = extra.maker.ToString();
        Assert.DoesNotContain(ids, id => id.Value is null);
        return ids;
    }
}

/// <summary>Sends what it wants and says what came back, without following anything.</summary>
public sealed class Guess(Uri portal) : IDisposable
{
    private readonly HttpClient _client = new(new SocketsHttpHandler { CookieContainer = new CookieContainer(), AllowAutoRedirect = false }) { BaseAddress = portal };
    private string _token = "";

    public async Task SignInAsync(string email, string password)
    {
        await TokenAsync("/sign-in");
        using var form = new FormUrlEncodedContent([new("Email", email), new("Password", password), new("form-token", _token)]);
        using var answer = await _client.PostAsync(new Uri("/sign-in", UriKind.Relative), form);
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        await TokenAsync("/sign-in/password");
    }

    public async Task<HttpResponseMessage> SendAsync(string verb, string path, IEnumerable<KeyValuePair<string, string>>? fields = null)
    {
        using var request = new HttpRequestMessage(new HttpMethod(verb), path);
        if (verb is not ("GET" or "HEAD"))
        {
            request.Content = new FormUrlEncodedContent(fields ?? []);
            if (_token.Length > 0)
                request.Headers.Add("form-token", _token);
        }
        return await _client.SendAsync(request, TestContext.Current.CancellationToken);
    }

    public void Dispose() => _client.Dispose();

    private async Task TokenAsync(string page)
    {
        using var answer = await _client.GetAsync(new Uri(page, UriKind.Relative));
        // Whoever has no role may open no page, so has no token; the gate of a route stands before the token's.
        if (answer.StatusCode == HttpStatusCode.Forbidden)
            return;
        var parsed = new AngleSharp.Html.Parser.HtmlParser().ParseDocument(await answer.Content.ReadAsStringAsync());
        _token = parsed.QuerySelector("input[name=form-token]")?.GetAttribute("value") ?? throw new InvalidOperationException($"{page} has no form token.");
    }
}

[CollectionDefinition(nameof(TwoShops))]
public sealed class TwoShopsCollection : ICollectionFixture<TwoShops>;
