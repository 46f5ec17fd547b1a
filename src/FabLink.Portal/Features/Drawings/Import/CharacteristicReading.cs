using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Drawings.Import;

/// <summary>One pass over the rows of a table of characteristics.</summary>
internal sealed class CharacteristicReading(
    Sheet sheet, TableHeader<CharacteristicField> header, CharacteristicImport.TitleBlock title)
{
    private readonly TableProblems problems = new(sheet.FileName);
    private string unitOfTable = "";

    public CharacteristicImport Read()
    {
        ReadAbove();
        var rows = sheet.Rows.Skip(header.Index + 1).Where(row => !IsBlank(row)).ToList();
        var broken = new HashSet<int>();
        var entries = new List<CharacteristicEntry>(rows.Count);
        foreach (var row in rows)
        {
            if (!AllUsable(row))
                broken.Add(row.Number);
            entries.Add(Entry(row));
        }

        if (rows.Count > EditCharacteristics.MostRows)
            problems.Refuse(rows[EditCharacteristics.MostRows].Number, "", $"A revision holds at most {EditCharacteristics.MostRows} characteristics.");
        else if (rows.Count == 0)
            problems.Refuse(null, "", "The table has headings but no characteristics below them.");

        var reading = CharacteristicReader.Read(entries, title.Unit, title.General, index => rows[index].Number);
        foreach (var problem in reading.Problems)
        {
            var row = rows[problem.Row].Number;
            broken.Add(row);
            // A formula or a date has been told already; what it reads as would only confuse.
            if (AllUsableSilently(rows[problem.Row]))
                problems.Refuse(row, problem.Field.ToLowerInvariant(), problem.Message);
        }

        foreach (var remark in sheet.Remarks)
            problems.Warn(null, "", remark);
        var read = reading.Characteristics.ToDictionary(characteristic => characteristic.Balloon);
        return new CharacteristicImport(
            [.. rows.Select((row, index) => new CharacteristicImport.Line(row.Number, entries[index], broken.Contains(row.Number) ? null : Find(read, entries[index])))],
            problems.Sorted(),
            header.Ignored);
    }

    private static Characteristic? Find(Dictionary<int, Characteristic> read, CharacteristicEntry entry) =>
        int.TryParse(entry.Balloon, out var balloon) ? read.GetValueOrDefault(balloon) : null;

    private void ReadAbove()
    {
        foreach (var (field, heading) in header.Doubled)
            problems.Refuse(sheet.Rows[header.Index].Number, CharacteristicColumns.Word(field), $"Two columns can be the {CharacteristicColumns.Word(field)}; “{heading}” is the second. Rename or delete one of them.");
        foreach (var (row, field, value) in header.Above(sheet, CharacteristicColumns.Names))
        {
            if (field == CharacteristicField.Part && !Same(value, title.Part))
                problems.Refuse(row, "part", $"The table is for part {TableProblems.Short(value)}, not for {title.Part}.");
            else if (field == CharacteristicField.Revision && !Same(value, title.Revision))
                problems.Refuse(row, "revision", $"The table is for revision {TableProblems.Short(value)}, not for {title.Revision}.");
            else if (field == CharacteristicField.General && !Same(value, title.General ?? ""))
                problems.Warn(row, "general", $"The table says {TableProblems.Short(value)}, the revision says {(string.IsNullOrWhiteSpace(title.General) ? "no general tolerance" : title.General)}. The revision's was used.");
            else if (field == CharacteristicField.Unit && !Units.TryParse(value, out _))
                problems.Refuse(row, "unit", $"“{TableProblems.Short(value)}” is not a unit known here. Use mm, µm, in, mil, deg, dms or rad.");
            else if (field == CharacteristicField.Unit && !Same(value, title.Unit))
                unitOfTable = value;
        }
    }

    private static bool Same(string one, string other) => one.Trim().Equals(other.Trim(), StringComparison.OrdinalIgnoreCase);

    private bool IsBlank(SheetRow row) =>
        Enum.GetValues<CharacteristicField>().All(field => header.Column(field) is var column && (column < 0 || row[column].IsBlank));

    private bool AllUsable(SheetRow row)
    {
        var good = true;
        foreach (var field in Enum.GetValues<CharacteristicField>())
        {
            if (header.Column(field) is >= 0 and var column)
                good &= problems.Accepts(row, row[column], CharacteristicColumns.Word(field));
        }

        return good;
    }

    private bool AllUsableSilently(SheetRow row) => Enum.GetValues<CharacteristicField>().All(field =>
        header.Column(field) is var column && (column < 0 || (row[column].Kind is not (CellKind.Formula or CellKind.Error) && !MangledDate.Is(row[column]))));

    private CharacteristicEntry Entry(SheetRow row)
    {
        var kind = Text(row, CharacteristicField.Kind);
        return new CharacteristicEntry
        {
            Balloon = Text(row, CharacteristicField.Balloon).TrimStart('#').Trim('(', ')', ' '),
            Requirement = Requirement(row, kind),
            Name = Text(row, CharacteristicField.Name),
            Kind = kind,
            Unit = Unit(row, kind),
            Datums = Text(row, CharacteristicField.Datums),
            Class = Text(row, CharacteristicField.Class),
            Stages = Text(row, CharacteristicField.Stages),
            Applies = Text(row, CharacteristicField.Applies),
            Count = Text(row, CharacteristicField.Count),
            Rule = Text(row, CharacteristicField.Rule),
            Rounding = Text(row, CharacteristicField.Rounding),
            Locates = Text(row, CharacteristicField.Locates),
        };
    }

    private string Unit(SheetRow row, string kind)
    {
        var own = Text(row, CharacteristicField.Unit);
        // Angles, film and what is not measured have units of their own when none is written.
        return own.Length > 0 || kind is "angle" or "film" or "attribute" or "text" ? own : unitOfTable;
    }

    private string Requirement(SheetRow row, string kind)
    {
        var written = Text(row, CharacteristicField.Requirement);
        var spread = new SpreadRequirement(
            Text(row, CharacteristicField.Nominal), Text(row, CharacteristicField.Plus), Text(row, CharacteristicField.Minus),
            Text(row, CharacteristicField.Tolerance), Text(row, CharacteristicField.Lower), Text(row, CharacteristicField.Upper));
        if (written.Length == 0)
        {
            if (spread.Contradiction() is not { } why)
                return spread.Write(kind);
            problems.Refuse(row.Number, "requirement", why);
            // Both stand in the table to be put right there; neither is taken for the other.
            return $"{spread.Write(kind)} or {spread.Lower} to {spread.Upper}";
        }

        if (!spread.IsEmpty)
            problems.Warn(row.Number, "requirement", $"The row has a requirement (“{TableProblems.Short(written)}”) and numbers of its own beside it; the requirement was used.");
        return written;
    }

    private string Text(SheetRow row, CharacteristicField field) =>
        header.Column(field) is >= 0 and var column ? row[column].Text.Trim() : "";
}
