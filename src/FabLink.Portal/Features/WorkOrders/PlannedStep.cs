using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>One step as it is planned on a line, before there are pieces.</summary>
/// <param name="OrganisationId">Who does it; null is the shop of the work order itself.</param>
/// <param name="Stage">The stage at which a report is taken here, if any.</param>
/// <param name="Gate"><c>none</c>, <c>hold</c> or <c>witness</c>: what stands after the step.</param>
/// <param name="OpensBy"><c>report</c> or <c>person</c>; only for a hold.</param>
/// <param name="NoticeHours">After how many hours an invited witness no longer holds the route up; only for a witness point.</param>
public sealed record PlannedStep(
    string Kind,
    Guid? OrganisationId,
    string? Stage,
    string Gate = "none",
    string? OpensBy = null,
    int? NoticeHours = null,
    int PlannedDays = 1)
{
    /// <summary>The words of the trade for what is done in a step, in the order in which they usually come.</summary>
    public static IReadOnlyList<string> Kinds { get; } =
        ["cut", "fit and tack", "weld", "stress relieve", "machine", "inspect", "blast", "powder coat", "ship", "receive", "install"];

    public static IReadOnlyList<string> Stages { get; } =
        ["cut", "tack", "as welded", "as machined", "before coat", "after coat", "receiving", "installed"];

    public static IReadOnlyList<string> Gates { get; } = ["none", "hold", "witness"];

    /// <summary>
    /// The route that a welded and coated part usually takes: a surprise is cheap at tack and dear after coating, so it holds there
    /// and once more before coat.
    /// </summary>
    /// <param name="coaterId">Who blasts and coats; null leaves it to the shop.</param>
    public static IReadOnlyList<PlannedStep> UsualRoute(Guid buildShopId, Guid? coaterId) =>
    [
        new("cut", null, null, PlannedDays: 2),
        new("fit and tack", null, "tack", "hold", "report", PlannedDays: 2),
        new("weld", null, null, PlannedDays: 2),
        new("inspect", null, "before coat", "hold", "report"),
        new("blast", coaterId, null),
        new("powder coat", coaterId, "after coat", PlannedDays: 5),
        new("receive", buildShopId, "receiving"),
    ];

    /// <summary>What does not apply to the gate is dropped, so that a form may send every field of a row.</summary>
    public PlannedStep Tidy() => this with
    {
        Stage = string.IsNullOrWhiteSpace(Stage) ? null : Stage,
        OpensBy = Gate == "hold" ? OpensBy : null,
        NoticeHours = Gate == "witness" ? NoticeHours : null,
    };

    public sealed class Validator : AbstractValidator<PlannedStep>
    {
        public Validator()
        {
            RuleFor(step => step.Kind).Must(kind => Kinds.Contains(kind)).WithMessage("Choose what is done in this step.");
            RuleFor(step => step.Stage).Must(stage => string.IsNullOrEmpty(stage) || Stages.Contains(stage)).WithMessage("Choose a stage from the list, or none.");
            RuleFor(step => step.Gate).Must(gate => Gates.Contains(gate)).WithMessage("Choose none, hold or witness.");
            RuleFor(step => step.OpensBy).Must(by => by is "report" or "person").When(step => step.Gate == "hold")
                .WithMessage("Say whether a conforming report or a named person opens the hold.");
            RuleFor(step => step.Stage).NotEmpty().When(step => step.Gate == "hold" && step.OpensBy == "report")
                .WithMessage("A hold that a report opens needs the stage of that report.");
            RuleFor(step => step.NoticeHours).NotNull().When(step => step.Gate == "witness")
                .WithMessage("Say how many hours of notice a witness gets, such as 24.");
            RuleFor(step => step.NoticeHours).InclusiveBetween(1, 240).WithMessage("Between 1 and 240 hours of notice.");
            RuleFor(step => step.PlannedDays).InclusiveBetween(0, 120).WithMessage("Between 0 and 120 days.");
        }
    }
}
