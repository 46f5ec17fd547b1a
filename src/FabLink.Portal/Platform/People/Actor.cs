using System.Security.Claims;

namespace FabLink.Portal.Platform.People;

/// <summary>What a person is in their organisation; a person can be several.</summary>
[Flags]
public enum Roles
{
    None = 0,
    Engineer = 1,
    Buyer = 2,
    Fabricator = 4,
    Coater = 8,
}

/// <summary>
/// On whose behalf a unit of work runs. The database compares every row with <see cref="OrganisationId"/>;
/// <see cref="Permissions"/> compares every deed with <see cref="Roles"/>.
/// </summary>
public sealed record Actor(Guid PersonId, Guid OrganisationId, string Name, string OrganisationName, string OrganisationKind, Roles Roles)
{
    private const string OrganisationClaim = "fablink:organisation";
    private const string OrganisationNameClaim = "fablink:organisation-name";
    private const string OrganisationKindClaim = "fablink:organisation-kind";
    private const string ZoneClaim = "fablink:zone";

    /// <summary>IANA name of the zone that its organisation reads times in; null leaves it to the portal's setting.</summary>
    public string? Zone { get; init; }

    public bool IsBuildShop => OrganisationKind == "build shop";

    public IEnumerable<Claim> ToClaims()
    {
        yield return new Claim(ClaimTypes.NameIdentifier, PersonId.ToString());
        yield return new Claim(ClaimTypes.Name, Name);
        yield return new Claim(OrganisationClaim, OrganisationId.ToString());
        yield return new Claim(OrganisationNameClaim, OrganisationName);
        yield return new Claim(OrganisationKindClaim, OrganisationKind);
        yield return new Claim(ClaimTypes.Role, ((int)Roles).ToString());
        if (Zone is not null)
            yield return new Claim(ZoneClaim, Zone);
    }

    /// <summary>The actor of a signed-in request, or null when nobody is signed in.</summary>
    public static Actor? From(ClaimsPrincipal user) =>
        user.Identity?.IsAuthenticated == true
        && Guid.TryParse(user.FindFirstValue(ClaimTypes.NameIdentifier), out var person)
        && Guid.TryParse(user.FindFirstValue(OrganisationClaim), out var organisation)
            ? new Actor(
                person,
                organisation,
                user.FindFirstValue(ClaimTypes.Name) ?? "",
                user.FindFirstValue(OrganisationNameClaim) ?? "",
                user.FindFirstValue(OrganisationKindClaim) ?? "",
                (Roles)int.Parse(user.FindFirstValue(ClaimTypes.Role) ?? "0"))
            {
                Zone = user.FindFirstValue(ZoneClaim),
            }
            : null;

    public static Roles ParseRoles(IEnumerable<string> names) =>
        names.Aggregate(Roles.None, (all, name) => all | Enum.Parse<Roles>(name, ignoreCase: true));
}
