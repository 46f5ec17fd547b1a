using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Pairs;

/// <summary>How a piece agrees with its mates: for the build shop, and for a shop that makes both.</summary>
public static class PairsOfPiece
{
    public sealed record Row(
        string Name, string Unit, decimal Within, Guid OtherId, string Other, decimal Value, decimal OtherValue, decimal? ExpandedUncertainty, string Verdict, DateTimeOffset CheckedAt)
    {
        public Mark Mark => Verdict switch { "conforms" => Mark.Conforms, "does not conform" => Mark.DoesNotConform, _ => Mark.NotProven };

        public string Say(decimal value) => Unit == "deg" ? $"{decimal.Round(value / 3600, 3):0.###}°" : $"{decimal.Round(value, 3):0.###} mm";

        public LimitBar Bar => new(-Shown(Within), Shown(Within), Shown(Value - OtherValue), ExpandedUncertainty is { } u ? Shown(u) : null, Mark, Unit == "deg" ? "°" : "mm");

        private double Shown(decimal value) => (double)(Unit == "deg" ? value / 3600 : value);
    }

    private const string Select = """
        select k.name, k.unit, k.within, o.id as other_id, o.serial as other,
               case when k.left_piece_id = @piece then k.left_value else k.right_value end as value,
               case when k.left_piece_id = @piece then k.right_value else k.left_value end as other_value, k.expanded_uncertainty, k.verdict, k.checked_at
        from (select distinct on (pair_id) * from pair_check
              where pair_id in (select pair_id from pair_check where left_piece_id = @piece or right_piece_id = @piece)
              order by pair_id, ordinal desc) k
             join piece o on o.id = case when k.left_piece_id = @piece then k.right_piece_id else k.left_piece_id end
        where @piece in (k.left_piece_id, k.right_piece_id) and k.verdict <> 'taken out'
        order by k.name
        """;

    /// <returns>The newest judgement of each pair that the piece belongs to, as far as the actor may see it.</returns>
    public static Task<IReadOnlyList<Row>> OfAsync(Work work, Guid piece) => work.RowsAsync<Row>(Select, new { piece });
}
