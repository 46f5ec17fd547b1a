using FluentValidation;

namespace FabLink.Portal.Platform.Web;

/// <summary>Days that can be meant; the database holds to the same (migration 0021).</summary>
public static class Days
{
    public static readonly DateOnly First = new(2000, 1, 1);
    public static readonly DateOnly Last = new(2099, 12, 31);

    /// <summary>Empty passes; whether it may be empty is another rule.</summary>
    public static IRuleBuilderOptions<T, DateOnly?> WithinReason<T>(this IRuleBuilder<T, DateOnly?> rule) =>
        rule.Must(day => day is null || (day >= First && day <= Last)).WithMessage("A day between 2000 and 2099.");

    /// <summary>Empty passes; a day that is over in every zone of the world does not.</summary>
    public static IRuleBuilderOptions<T, DateOnly?> NotOver<T>(this IRuleBuilder<T, DateOnly?> rule, TimeProvider clock) =>
        rule.Must(day => day is null || (day >= DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime).AddDays(-1) && day <= Last))
            .WithMessage("This day is over, or beyond 2099: a concession holds from now on. Leave it empty for one without an end.");
}
