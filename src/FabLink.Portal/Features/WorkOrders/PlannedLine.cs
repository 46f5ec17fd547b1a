using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>One line of a work order as it is planned: how many of which revision for which build, by when, by which route.</summary>
public sealed record PlannedLine(
    Guid RevisionId,
    Guid BuildId,
    int Quantity,
    DateOnly? NeedDate,
    string? Note,
    IReadOnlyList<PlannedStep>? Route)
{
    public sealed class Validator : AbstractValidator<PlannedLine>
    {
        public Validator()
        {
            RuleFor(line => line.RevisionId).NotEmpty().WithMessage("Choose a released revision.");
            RuleFor(line => line.BuildId).NotEmpty().WithMessage("Choose the build that needs it.");
            RuleFor(line => line.Quantity).InclusiveBetween(1, 500).WithMessage("Between 1 and 500 pieces.");
            RuleFor(line => line.NeedDate).NotNull().WithMessage("Say on which day the pieces must be on the bench.").WithinReason();
            RuleFor(line => line.Note).MaximumLength(2000).WithMessage("At most 2000 characters.");
            RuleFor(line => line.Route).NotEmpty().WithMessage("A line needs at least one step.")
                .Must(route => route is null || route.Count <= 30).WithMessage("At most 30 steps.");
            RuleForEach(line => line.Route).SetValidator(new PlannedStep.Validator());
        }
    }
}
