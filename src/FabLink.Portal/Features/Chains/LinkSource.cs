namespace FabLink.Portal.Features.Chains;

/// <summary>Where a value of a build comes from, as it is kept: exactly one kind.</summary>
public abstract record LinkSource
{
    private LinkSource()
    {
    }

    /// <summary>A characteristic of a piece in its place: the how-manieth piece of this part in the build.</summary>
    public sealed record Characteristic(Guid PartId, int Place, int Balloon, int Instance) : LinkSource;

    /// <summary>A coordinate of a surveyed point, or a difference or distance of two.</summary>
    /// <param name="Axis">x, y, z, or distance.</param>
    /// <param name="Model">What the model says, where it says something.</param>
    public sealed record Survey(Guid SurveyId, string Point, string? OtherPoint, string Axis, Toleranced? Model) : LinkSource;

    public sealed record Number(Toleranced Size) : LinkSource;
}

/// <summary>A nominal with deviations, in mm.</summary>
public sealed record Toleranced(decimal Nominal, decimal Lower, decimal Upper);
