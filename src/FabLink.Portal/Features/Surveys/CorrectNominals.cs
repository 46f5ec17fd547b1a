using System.Globalization;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Surveys;

/// <summary>
/// Before anything is cut: the mating holes of a part are put where the machine has them, in a new revision that the engineer looks at and releases.
/// </summary>
public static class CorrectNominals
{
    /// <param name="Pattern">Part and pattern that were compared with the survey.</param>
    public sealed record Request(Guid SurveyId, string Pattern);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Changed">How many nominals differ from the revision before.</param>
        public sealed record Made(Guid RevisionId, string Letter, int Changed) : Outcome;

        /// <summary>Every hole stands where the drawing has it already, to the last place written.</summary>
        public sealed record NothingToChange : Outcome;

        public sealed record Refused(string Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(ShowSurvey.Handler show, ShowRevision.Handler revisions, NewRevision.Handler next, EditCharacteristics.Handler edit)
    {
        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteJoints, Relation.Own) || !actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            if (await show.HandleAsync(actor, request.SurveyId, request.Pattern, cancellation) is not { } page)
                return new Outcome.NotFound();
            if (page.Comparison is not { Fit: not null } comparison || comparison.Pattern.Value != request.Pattern)
                return new Outcome.Refused(page.Comparison?.Why is { Length: > 0 } why ? why : "That pattern is not on the newest drawing any more.");

            if (comparison.IsOfAnotherPart)
                return new Outcome.Refused($"Hole {comparison.Worst!.Hole.Name} stands farther off than halfway to its neighbour: this is hardly {comparison.Pattern.Number} {comparison.Pattern.Pattern}, or the names are swapped.");

            var moved = new Dictionary<int, (LocatedValue Value, double To)>();
            var basic = new Dictionary<(int Balloon, string Axis), Dictionary<string, double>>();
            foreach (var hole in comparison.Holes)
            {
                var axes = HolePatterns.PlaneNames(hole.Hole.Axis);
                foreach (var (value, axis, to) in new[] { (hole.Hole.InPlane.First!, axes[0], hole.Found.X), (hole.Hole.InPlane.Second!, axes[1], hole.Found.Y) })
                {
                    if (value.IsBasic)
                    {
                        if (!basic.TryGetValue((value.Row.Balloon, axis), out var places))
                            basic.Add((value.Row.Balloon, axis), places = []);
                        places[hole.Hole.Name] = to;
                    }
                    else if (!moved.TryAdd(value.Row.Balloon, (value, to)) && Math.Abs(moved[value.Row.Balloon].To - to) > 0.05)
                    {
                        return new Outcome.Refused($"Balloon {value.Row.Balloon} places several holes at once, and the machine has them at different places; give each hole its own balloon first.");
                    }
                }
            }

            var revision = comparison.Holes[0].Hole.InPlane.First!.Row.RevisionId;
            if (await revisions.HandleAsync(actor, revision, cancellation) is not { } sheet)
                return new Outcome.NotFound();
            var rows = new List<CharacteristicEntry>();
            var changed = 0;
            foreach (var one in sheet.Characteristics)
            {
                var entry = CharacteristicReader.Shortest(one, sheet.Head.Unit, sheet.Head.GeneralTolerance);
                if (moved.TryGetValue(one.Balloon, out var move))
                {
                    var text = Moved(one, move.To);
                    if (text is null)
                        return new Outcome.Refused($"Balloon {one.Balloon} ({one.Requirement}) has no nominal that could be moved; write it as a nominal with its deviations first.");
                    changed += text == one.Requirement ? 0 : 1;
                    entry = entry with { Requirement = text };
                }

                foreach (var (axis, places) in basic.Where(pair => pair.Key.Balloon == one.Balloon).Select(pair => (pair.Key.Axis, pair.Value)))
                {
                    var text = MovedBasic(entry.Locates!, axis, places, CharacteristicWords.LengthUnit(one.Unit, sheet.Head.Unit));
                    if (text.Length > Locates.Longest)
                        return new Outcome.Refused($"Balloon {one.Balloon}: the coordinates of so many holes at places of their own do not fit into one entry; give them balloons first.");
                    entry = entry with { Locates = text };
                }

                changed += entry.Locates == one.Locates ? 0 : 1;
                rows.Add(entry);
            }

            if (changed == 0)
                return new Outcome.NothingToChange();
            var note = $"Holes of {comparison.Pattern.Pattern} put where survey {page.Head.Name} of {page.Head.Build} found them.";
            return await next.HandleAsync(actor, new NewRevision.Request(sheet.Head.DrawingId, note, WithFiles: false), cancellation) switch
            {
                NewRevision.Outcome.Created created => await WriteAsync(actor, created, rows, changed, cancellation),
                NewRevision.Outcome.DraftExists draft => new Outcome.Refused($"Revision {draft.Letter} is being written already; release or finish that one first."),
                NewRevision.Outcome.NoLetterLeft => new Outcome.Refused("This drawing has no revision letter left."),
                NewRevision.Outcome.NotAllowed => new Outcome.NotAllowed(),
                _ => new Outcome.NotFound(),
            };
        }

        private async Task<Outcome> WriteAsync(Actor actor, NewRevision.Outcome.Created created, List<CharacteristicEntry> rows, int changed, CancellationToken cancellation)
        {
            var sheet = await revisions.HandleAsync(actor, created.RevisionId, cancellation);
            return await edit.HandleAsync(actor, new EditCharacteristics.Request(created.RevisionId, sheet!.Head.RowVersion, rows), cancellation) switch
            {
                EditCharacteristics.Outcome.Saved => new Outcome.Made(created.RevisionId, created.Letter, changed),
                EditCharacteristics.Outcome.Wrong wrong => new Outcome.Refused(
                    $"Revision {created.Letter} is begun, and its table needs a hand: {string.Join(" ", wrong.Problems.Take(3).Select(problem => problem.Message))}"),
                _ => new Outcome.Refused($"Revision {created.Letter} is begun, and somebody else changed it meanwhile; compare it with the survey by hand."),
            };
        }
    }

    /// <summary>The same entry with its basic coordinates where the holes were found, to the steps of <see cref="Moved"/>; holes that were not found stay.</summary>
    /// <param name="lengthUnit">mm or in: of a number that has none written.</param>
    public static string MovedBasic(string locates, string axis, IReadOnlyDictionary<string, double> places, string lengthUnit)
    {
        var located = Locates.Parse(locates, lengthUnit);
        var drawn = axis switch { "x" => located.BasicX, "y" => located.BasicY, _ => located.BasicZ };
        var (unit, step) = lengthUnit == "in" ? (25.4, 0.005) : (1, 0.1);
        var steps = located.Holes.Select((name, i) =>
        {
            var old = drawn[drawn.Count == 1 ? 0 : i];
            var to = places.GetValueOrDefault(name, old);
            return Math.Round(to / unit / step) == Math.Round(old / unit / step) ? old / unit : Math.Round(to / unit / step) * step;
        }).ToList();
        return steps.Select((to, i) => Math.Abs(to - (drawn[drawn.Count == 1 ? 0 : i] / unit)) < 1e-9).All(same => same)
            ? locates
            : Locates.WithBasic(locates, axis, [.. steps.Select(to => Math.Round(to, 6).ToString("0.######", CultureInfo.InvariantCulture))]);
    }

    /// <summary>The same requirement about another nominal, to a tenth of a millimetre or five thousandths of an inch; null when its text does not begin with its nominal.</summary>
    public static string? Moved(Characteristic one, double toMm)
    {
        if (one.Nominal is not { } nominal)
            return null;
        var unit = CharacteristicWords.ToUnit(one.Unit);
        var step = unit == Unit.Inch ? 0.005m : 0.1m;
        var to = Math.Round(Units.FromBase((decimal)toMm, unit) / step) * step;
        if (to == Math.Round(Units.FromBase(nominal, unit) / step) * step)
            return one.Requirement;
        var end = 0;
        while (end < one.Requirement.Length && (char.IsAsciiDigit(one.Requirement[end]) || one.Requirement[end] is '.' or ',' or '-' or '−'))
            end++;
        return decimal.TryParse(one.Requirement[..end].Replace('−', '-').Replace(',', '.'), NumberStyles.Float, CultureInfo.InvariantCulture, out var written) && written == Units.FromBase(nominal, unit)
            ? to.ToString("0.0##", CultureInfo.InvariantCulture) + one.Requirement[end..]
            : null;
    }
}
