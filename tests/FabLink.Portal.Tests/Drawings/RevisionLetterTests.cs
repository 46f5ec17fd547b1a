using FabLink.Portal.Features.Drawings;

namespace FabLink.Portal.Tests.Drawings;

public sealed class RevisionLetterTests
{
    // ASME Y14.35-2014, 5.1 (letters I, O, Q, S, X and Z are not used; the series goes on with AA, AB).
    [Theory]
    [InlineData("A", "B")]
    [InlineData("H", "J")]
    [InlineData("N", "P")]
    [InlineData("P", "R")]
    [InlineData("R", "T")]
    [InlineData("W", "Y")]
    [InlineData("Y", "AA")]
    [InlineData("AA", "AB")]
    [InlineData("AY", "BA")]
    public void The_next_letter_skips_what_could_be_misread(string letter, string next) => Assert.Equal(next, RevisionLetter.After(letter));

    [Fact]
    public void After_YY_there_is_none() => Assert.Null(RevisionLetter.After("YY"));

    [Theory]
    [InlineData("I")]
    [InlineData("")]
    [InlineData("a")]
    [InlineData("AAA")]
    public void What_is_no_revision_letter_is_refused(string letter) => Assert.Throws<ArgumentException>(() => RevisionLetter.After(letter));

    [Fact]
    public void Later_letters_come_later_from_A_to_YY()
    {
        var count = 1;
        for (var letter = RevisionLetter.First; RevisionLetter.After(letter) is { } next; letter = next, count++)
            Assert.True(RevisionLetter.Order(next) > RevisionLetter.Order(letter), $"{next} after {letter}");
        Assert.Equal(20 + (20 * 20), count);
    }
}
