using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

/// <summary>
/// An engine cradle on two rails, ten M12 through Ø13.5. The rails (a) are surveyed: on the right rail holes 7 and 8 stand
/// 1.6 mm towards each other. The cradle (b) is measured at tack: every hole is within position Ø0.8 of the
/// model and Ø13.5 to 13.8, so each conforms; the joint does not go together.
/// </summary>
internal static class Cradle
{
    public const double PositionTolerance = 0.8;

    private static readonly (double X, double Y)[] Model =
        [(0, 0), (150, 0), (300, 0), (450, 0), (600, 0), (0, 420), (150, 420), (300, 420), (450, 420), (600, 420)];

    private static readonly (double X, double Y)[] Rails =
    [
        (0.10, -0.05), (149.95, 0.10), (300.05, 0.00), (450.10, -0.10), (599.90, 0.05),
        (-0.05, 420.10), (151.60, 419.95), (298.40, 420.05), (450.05, 419.90), (600.00, 420.10),
    ];

    private static readonly (double X, double Y)[] Made =
    [
        (0.12, 0.10), (150.20, -0.15), (299.85, 0.20), (450.10, 0.05), (599.80, -0.10),
        (0.15, 419.90), (149.75, 420.10), (300.25, 419.90), (449.90, 420.15), (600.20, 420.00),
    ];

    private static readonly string[] Details =
    [
        "left front pad", "left front pad", "left rear pad", "left rear pad", "left rear pad",
        "right front pad", "right front pad", "right rear pad", "right rear pad", "right rear pad",
    ];

    public static BoltUpRequest Request { get; } = new()
    {
        Unit = "mm",
        Holes =
        [
            .. Model.Select((_, i) => new BoltUpHole
            {
                Name = $"{i + 1}",
                A = new BoltUpSide { X = Rails[i].X, Y = Rails[i].Y, Diameter = 13.5, Uncertainty = 0.1 },
                B = new BoltUpSide { X = Made[i].X, Y = Made[i].Y, Diameter = 13.5, Uncertainty = 0.1, Detail = Details[i] },
                Fastener = 12,
                Kind = "floating",
            }),
        ],
    };

    /// <summary>Diametral position of each cradle hole against the model: 2·√(dx² + dy²).</summary>
    public static IEnumerable<double> Positions =>
        Model.Zip(Made, (model, made) => 2 * double.Hypot(made.X - model.X, made.Y - model.Y));
}
