namespace FabLink.Portal.Platform.People;

/// <summary>What sign-in knows about a person before there is an <see cref="Actor"/>.</summary>
public sealed class SignInPerson
{
    public Guid Id { get; set; }

    public Guid OrganisationId { get; set; }

    public string Name { get; set; } = "";

    public string OrganisationName { get; set; } = "";

    public string OrganisationKind { get; set; } = "";

    public string? Zone { get; set; }

    public string[] Roles { get; set; } = [];

    public string Email { get; set; } = "";

    public string? PasswordHash { get; set; }

    public string SecurityStamp { get; set; } = "";

    public int AccessFailedCount { get; set; }

    public DateTime? LockoutEnd { get; set; }

    public Actor ToActor() =>
        new(Id, OrganisationId, Name, OrganisationName, OrganisationKind, Actor.ParseRoles(Roles)) { Zone = Zone };
}
