namespace FabLink.Engineering.Gauging;

/// <summary>The readings of a study as a full table: part × person × trial.</summary>
internal sealed class GaugeTable
{
    private const decimal Largest = 10_000_000_000_000;

    private readonly decimal[,,] cells;

    private GaugeTable(IReadOnlyList<string> parts, IReadOnlyList<string> persons, decimal[,,] cells) =>
        (Parts, Persons, this.cells) = (parts, persons, cells);

    public IReadOnlyList<string> Parts { get; }

    public IReadOnlyList<string> Persons { get; }

    public int Trials => cells.GetLength(2);

    public decimal Mean => Average(Enumerable.Range(0, Parts.Count).SelectMany(p => Enumerable.Range(0, Persons.Count).SelectMany(k => Cell(p, k))));

    public decimal[] Cell(int part, int person) => [.. Enumerable.Range(0, Trials).Select(trial => cells[part, person, trial])];

    public decimal MeanOfCell(int part, int person) => Average(Cell(part, person));

    public decimal MeanOfPart(int part) => Average(Enumerable.Range(0, Persons.Count).SelectMany(person => Cell(part, person)));

    public decimal MeanOfPerson(int person) => Average(Enumerable.Range(0, Parts.Count).SelectMany(part => Cell(part, person)));

    public decimal RangeOfCell(int part, int person) => Cell(part, person).Max() - Cell(part, person).Min();

    public static GaugeTable From(IReadOnlyList<GaugeMeasurement> measurements)
    {
        var readings = new Dictionary<(string Part, string Person), Dictionary<int, decimal>>();
        var parts = new List<string>();
        var persons = new List<string>();
        for (var row = 0; row < measurements.Count; row++)
        {
            var reading = measurements[row];
            Check(reading, row);
            if (!parts.Contains(reading.Part))
                parts.Add(reading.Part);
            if (!persons.Contains(reading.Person))
                persons.Add(reading.Person);
            if (!readings.TryGetValue((reading.Part, reading.Person), out var cell))
                readings[(reading.Part, reading.Person)] = cell = [];
            if (!cell.TryAdd(reading.Trial, reading.Value))
                throw new InputError($"measurements/{row}", $"Row {row + 1}: part {reading.Part}, person {reading.Person}, trial {reading.Trial} is there twice.");
        }

        if (parts.Count < 2 || persons.Count < 2)
            throw new InputError("measurements", $"A study needs at least 2 parts and 2 persons, not {parts.Count} and {persons.Count}.");
        var trials = readings.Values.Max(cell => cell.Count);
        if (trials < 2)
            throw new InputError("measurements", "A study needs at least 2 trials of each person on each part.");

        var cells = new decimal[parts.Count, persons.Count, trials];
        for (var p = 0; p < parts.Count; p++)
        {
            for (var k = 0; k < persons.Count; k++)
            {
                var cell = readings.GetValueOrDefault((parts[p], persons[k]));
                if (cell?.Count != trials)
                    throw new InputError("measurements", $"Part {parts[p]} was measured {cell?.Count ?? 0} times by {persons[k]}; every cell needs {trials}.");
                var t = 0;
                foreach (var trial in cell.OrderBy(c => c.Key))
                    cells[p, k, t++] = trial.Value;
            }
        }

        return new GaugeTable(parts, persons, cells);
    }

    private static void Check(GaugeMeasurement reading, int row)
    {
        if (string.IsNullOrWhiteSpace(reading.Part))
            throw new InputError($"measurements/{row}/part", $"Row {row + 1} names no part.");
        if (string.IsNullOrWhiteSpace(reading.Person))
            throw new InputError($"measurements/{row}/person", $"Row {row + 1} names no person.");
        if (Math.Abs(reading.Value) > Largest)
            throw new InputError($"measurements/{row}/value", $"Row {row + 1}: {reading.Value} is larger than {Largest}.");
    }

    private static decimal Average(IEnumerable<decimal> values) => values.Average();
}
