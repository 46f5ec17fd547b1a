namespace FabLink.Engineering.Tests;

public class InputErrorTests
{
    [Fact]
    public void A_fault_seen_from_further_out_names_the_whole_path() =>
        Assert.Equal("holes/3/diameter", new InputError("diameter", "must be positive").Within("holes/3").Field);
}
