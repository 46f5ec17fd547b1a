using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Tolerances;

internal static class GeneralTables
{
    private static readonly SizeTable Form2768 = SizeTable.Load("iso-2768-2-straightness-flatness.csv");
    private static readonly SizeTable WeldedForm = SizeTable.Load("iso-13920-form.csv");

    private static readonly Dictionary<(GeneralStandard, GeneralKind), SizeTable> Tables = new()
    {
        [(GeneralStandard.Iso2768, GeneralKind.Linear)] = SizeTable.Load("iso-2768-1-linear.csv"),
        [(GeneralStandard.Iso2768, GeneralKind.Radius)] = SizeTable.Load("iso-2768-1-broken-edges.csv"),
        [(GeneralStandard.Iso2768, GeneralKind.Angle)] = SizeTable.Load("iso-2768-1-angular.csv"),
        [(GeneralStandard.Iso2768, GeneralKind.Straightness)] = Form2768,
        [(GeneralStandard.Iso2768, GeneralKind.Flatness)] = Form2768,
        [(GeneralStandard.Iso2768, GeneralKind.Perpendicularity)] = SizeTable.Load("iso-2768-2-perpendicularity.csv"),
        [(GeneralStandard.Iso2768, GeneralKind.Symmetry)] = SizeTable.Load("iso-2768-2-symmetry.csv"),
        [(GeneralStandard.Iso2768, GeneralKind.RunOut)] = SizeTable.Load("iso-2768-2-run-out.csv"),
        [(GeneralStandard.Iso13920, GeneralKind.Linear)] = SizeTable.Load("iso-13920-linear.csv"),
        [(GeneralStandard.Iso13920, GeneralKind.Angle)] = SizeTable.Load("iso-13920-angular.csv"),
        [(GeneralStandard.Iso13920, GeneralKind.Straightness)] = WeldedForm,
        [(GeneralStandard.Iso13920, GeneralKind.Flatness)] = WeldedForm,
        [(GeneralStandard.Iso13920, GeneralKind.Parallelism)] = WeldedForm,
    };

    public static SizeTable WeldedSlope { get; } = SizeTable.Load("iso-13920-angular-slope.csv");

    public static SizeTable? Find(GeneralStandard standard, GeneralKind kind) => Tables.GetValueOrDefault((standard, kind));

    public static string NameOf(GeneralKind kind) => kind switch
    {
        GeneralKind.Linear => "linear sizes",
        GeneralKind.Radius => "radii and chamfers",
        GeneralKind.Angle => "angles",
        GeneralKind.RunOut => "run-out",
        _ => kind.ToString().ToLowerInvariant(),
    };
}
