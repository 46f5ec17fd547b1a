namespace FabLink.Browser.Tests;

public class FrameTests
{
    [Fact]
    public void The_frame_stands() => Assert.NotNull(typeof(FrameTests).Assembly.GetName().Name);
}
