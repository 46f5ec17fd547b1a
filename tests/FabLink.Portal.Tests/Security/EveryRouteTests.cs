using System.Net;
using System.Text.RegularExpressions;
using Dapper;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FabLink.Testing;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;

namespace FabLink.Portal.Tests.Security;

/// <summary>Every route times every kind of person. A route that is not in <see cref="Routes"/> fails here.</summary>
[Collection(nameof(TwoShops))]
public sealed partial class EveryRouteTests(TwoShops shops)
{
    [Fact]
    public void Every_route_has_an_entry()
    {
        var known = Routes.All.Select(route => route.Pattern).ToHashSet();
        Assert.DoesNotContain(Endpoints().Keys, pattern => !known.Contains(pattern));
    }

    [Fact]
    public async Task Who_is_not_signed_in_is_sent_to_the_sign_in_page()
    {
        var wrong = new List<string>();
        foreach (var (route, endpoint) in Walk())
        {
            using var answer = await (await shops.AtWireAsync(null)).SendAsync(Verb(route), shops.Fill(route.Path));
            var open = IsOpen(endpoint);
            var sent = answer.StatusCode == HttpStatusCode.Unauthorized
                || (answer.StatusCode == HttpStatusCode.Redirect && answer.Headers.Location!.OriginalString.Contains("/sign-in?", StringComparison.Ordinal));
            if (route.IsApi ? answer.StatusCode != HttpStatusCode.Unauthorized : open ? (int)answer.StatusCode >= 500 && route.SignedInToo : !sent)
                wrong.Add(Said(route, answer));
        }

        Assert.True(wrong.Count == 0, string.Join("\n", wrong));
    }

    public static TheoryData<string> Kinds => ["engineer", "buyer", "shop", "other shop", "coater", "visitor", "other build shop"];

    [Theory]
    [MemberData(nameof(Kinds))]
    public async Task A_signed_in_person_opens_what_is_theirs_is_refused_the_wrong_deed_and_never_learns_of_the_rest(string kind)
    {
        var actor = Of(kind);
        var client = await shops.AtWireAsync(actor);
        var sees = kind switch
        {
            "engineer" or "buyer" => Sees.Owner,
            "shop" => Sees.Shop,
            "coater" => Sees.Process,
            _ => Sees.Nobody,
        };
        var before = await FingerprintAsync(actor);
        var wrong = new List<string>();
        foreach (var (route, endpoint) in Walk().Where(walk => walk.Route.SignedInToo))
        {
            using var answer = await client.SendAsync(Verb(route), shops.Fill(route.Path));
            var status = (int)answer.StatusCode;
            var right = route.IsApi
                ? actor.MayAnywhere(Deed.UseBench) ? status is >= 200 and < 500 and not 401 : status == 401
                : endpoint.Metadata.GetOrderedMetadata<MayAttribute>() is { Count: > 0 } may && may.Any(deed => !actor.MayAnywhere(deed.Deed))
                ? status == 403
                : route.Sees.HasFlag(Sees.Everybody) || (route.Sees & sees) != 0
                    ? status is 200 or 204 or 302 or 303 or 400 or 403 or 409 or 413 or 422
                    : status == 404;
            if (!right)
                wrong.Add(Said(route, answer));
        }

        Assert.True(wrong.Count == 0, string.Join("\n", wrong));
        if (sees == Sees.Nobody)
            Assert.Equal(before, await FingerprintAsync(actor));
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public async Task An_id_that_never_was_is_no_sheet_and_no_fault(string kind)
    {
        var actor = Of(kind);
        var client = await shops.AtWireAsync(actor);
        var wrong = new List<string>();
        foreach (var (route, endpoint) in Walk().Where(walk => walk.Route.SignedInToo && !walk.Route.Sees.HasFlag(Sees.Everybody)))
        {
            using var answer = await client.SendAsync(Verb(route), Placeholder().Replace(route.Path, _ => Guid.CreateVersion7().ToString()));
            var may = endpoint.Metadata.GetOrderedMetadata<MayAttribute>().All(deed => actor.MayAnywhere(deed.Deed));
            if ((int)answer.StatusCode != (may ? 404 : 403))
                wrong.Add(Said(route, answer));
        }

        Assert.True(wrong.Count == 0, string.Join("\n", wrong));
    }

    /// <summary>Paths and fields that name rows of Dunlin's order, sent by people who have nothing to do with it.</summary>
    public static TheoryData<string, string, string> Bodies => new()
    {
        { "other build shop", "/orders/new", "ShopId={shop}&Lines[0].RevisionId={revision}&Lines[0].BuildId={build}&Lines[0].Quantity=1&Lines[0].NeedDate=2030-01-01" },
        { "other shop", "/steps/start", "StepIds={step}" },
        { "other shop", "/steps/finish", "StepIds={step}" },
        { "other shop", "/steps/witness", "StepIds={step}&StepId={step}" },
        { "coater", "/steps/start", "StepIds={step}" },
        { "other build shop", "/steps/start", "StepIds={step}" },
        { "other shop", "/orders/{own order}/ship", "PieceIds={piece}&PieceIds[0]={piece}" },
        { "other shop", "/orders/{own order}/ask", "RevisionId={revision}&CharacteristicId={characteristic}&Body=What is this one for?" },
        { "other shop", "/pieces/{own piece}/measure/tack", "entryKey={fresh}&entries[{characteristic n}:1].Value=12&entries[{characteristic n}:1].Uncertainty=&entries[{characteristic n}:1].Note=" },
        { "other build shop", "/parts/new", "Number=X-1&Name=Mine&OwnerId={shop}&Id={part}" },
        { "other shop", "/instruments", "Id={instrument}&RowVersion=1&Name=Mine now&Kind=caliper&Unit=mm&Resolution=1&Uncertainty=9&UncertaintyPerMetre=0" },
        { "other shop", "/orders/{own order}/lines/{line}/promise", "PromisedDate=2030-01-01&Reason=because" },
    };

    [Theory]
    [MemberData(nameof(Bodies))]
    public async Task Ids_of_others_in_the_fields_are_refused_and_write_nothing_of_theirs(string kind, string path, string fields)
    {
        var actor = Of(kind);
        var own = await OwnAsync(actor);
        string Fill(string text) => own.Aggregate(shops.Fill(text), (filled, id) => filled.Replace($"{{{id.Key}}}", id.Value, StringComparison.Ordinal));
        var before = await FingerprintAsync(actor);
        using var answer = await (await shops.AtWireAsync(actor)).SendAsync("POST", Fill(path), fields.Split('&').Select(field => field.Split('=', 2)).Select(field => KeyValuePair.Create(Fill(field[0]), Fill(field[1]))));

        Assert.InRange((int)answer.StatusCode, 200, 499);
        Assert.Equal(before, await FingerprintAsync(actor));
    }

    private async Task<Dictionary<string, string>> OwnAsync(Actor actor)
    {
        await using var owner = await shops.OpenAsync();
        var piece = await owner.QueryFirstOrDefaultAsync<(Guid Order, Guid Piece)>(
            "select p.work_order_id, p.id from piece p join work_order w on w.id = p.work_order_id where w.shop_id = @OrganisationId or w.owner_id = @OrganisationId order by p.serial limit 1",
            new { actor.OrganisationId });
        return new()
        {
            ["own order"] = piece.Order.ToString(),
            ["own piece"] = piece.Piece.ToString(),
            ["fresh"] = Guid.CreateVersion7().ToString(),
            ["characteristic n"] = Guid.Parse(shops.Ids["characteristic"]).ToString("n"),
        };
    }

    /// <summary>Everything that Dunlin's order is made of, row by row, and what was ever written there by this actor.</summary>
    private async Task<string> FingerprintAsync(Actor actor)
    {
        await using var owner = await shops.OpenAsync();
        var print = new List<string>();
        foreach (var table in new[] { "work_order_line", "route_step", "piece", "piece_step", "promise", "question", "packing_slip", "packing_slip_piece", "attachment", "upload", "report", "measured_value", "nonconformance", "concession" })
        {
            print.Add(table + " " + await owner.ExecuteScalarAsync<string>(
                $"select coalesce(md5(string_agg(t::text, '|' order by t::text)), '') from {table} t where work_order_id = @order::uuid", new { order = shops.Ids["order"] }));
        }
        foreach (var table in new[] { "instrument", "person" })
        {
            print.Add(table + " " + await owner.ExecuteScalarAsync<string>(
                $"select coalesce(md5(string_agg(t::text, '|' order by t::text)), '') from {table} t where organisation_id <> @OrganisationId", new { actor.OrganisationId }));
        }
        foreach (var table in new[] { "part", "drawing", "revision", "revision_file", "characteristic", "build" })
        {
            print.Add(table + " " + await owner.ExecuteScalarAsync<string>(
                $"select coalesce(md5(string_agg(t::text, '|' order by t::text)), '') from {table} t where owner_id <> @OrganisationId", new { actor.OrganisationId }));
        }
        print.Add("audit " + await owner.ExecuteScalarAsync<long>(
            "select count(*) from audit where organisation_id = @OrganisationId and work_order_id = @order::uuid", new { actor.OrganisationId, order = shops.Ids["order"] }));
        return string.Join("\n", print);
    }

    private Dictionary<string, RouteEndpoint> Endpoints() => shops.Portal.Services.GetServices<EndpointDataSource>()
        .SelectMany(source => source.Endpoints).OfType<RouteEndpoint>()
        .SelectMany(endpoint => (endpoint.Metadata.GetMetadata<HttpMethodMetadata>()?.HttpMethods ?? ["GET"])
            .Select(verb => (Pattern: $"{verb} {endpoint.RoutePattern.RawText?.Trim('/')}", endpoint)))
        .GroupBy(pair => pair.Pattern).ToDictionary(pairs => pairs.Key, pairs => pairs.First().endpoint);

    private IEnumerable<(RouteEntry Route, RouteEndpoint Endpoint)> Walk()
    {
        var endpoints = Endpoints();
        return Routes.All.Where(route => endpoints.ContainsKey(route.Pattern)).Select(route => (route, endpoints[route.Pattern]));
    }

    private static bool IsOpen(RouteEndpoint endpoint) =>
        endpoint.Metadata.GetMetadata<IAllowAnonymous>() is not null || endpoint.Metadata.GetMetadata<MayAttribute>() is null;

    private Actor Of(string kind) => kind switch
    {
        "engineer" => shops.Engineer,
        "buyer" => shops.Buyer,
        "shop" => shops.Shop,
        "other shop" => shops.OtherShop,
        "coater" => shops.Coater,
        "visitor" => shops.Visitor,
        _ => shops.OtherOwner,
    };

    private static string Verb(RouteEntry route) => route.Pattern.Split(' ')[0];

    private static string Said(RouteEntry route, HttpResponseMessage answer) => $"{route.Pattern}: {(int)answer.StatusCode} {answer.Headers.Location}";

    [GeneratedRegex(@"\{[^}]+\}")]
    private static partial Regex Placeholder();
}
