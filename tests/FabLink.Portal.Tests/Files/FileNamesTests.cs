using FabLink.Portal.Platform.Files;
using Microsoft.AspNetCore.Http;

namespace FabLink.Portal.Tests.Files;

public sealed class FileNamesTests
{
    [Theory]
    [InlineData("C:\\shop\\RH-110 rev A.pdf", "RH-110 rev A.pdf")]
    [InlineData("../../../etc/passwd", "passwd")]
    [InlineData("values\r\nSet-Cookie: x=1.csv", "valuesSet-Cookie_ x=1.csv")]
    [InlineData("exe.\u202Efdp.csv", "exe.fdp.csv")]
    [InlineData("Träger Maß.csv", "Träger Maß.csv")]
    [InlineData("..", "file")]
    [InlineData("", "file")]
    [InlineData(null, "file")]
    [InlineData("a<b>\"c\"?.csv", "a_b__c__.csv")]
    public void A_name_becomes_safe_and_stays_readable(string? name, string safe) => Assert.Equal(safe, FileNames.Safe(name));

    [Fact]
    public void A_long_name_keeps_its_ending()
    {
        var safe = FileNames.Safe(new string('x', 400) + ".step");

        Assert.Equal(120, safe.Length);
        Assert.EndsWith(".step", safe);
    }

    [Fact]
    public void The_ending_follows_the_content()
    {
        Assert.Equal("invoice.exe.pdf", FileNames.ForDownload("invoice.exe", FileType.Pdf));
        Assert.Equal("model.STP", FileNames.ForDownload("model.STP", FileType.Step));
    }

    [Fact]
    public async Task A_file_is_delivered_so_that_a_browser_neither_guesses_nor_runs_it()
    {
        var folder = Directory.CreateTempSubdirectory("fablink-files-").FullName;
        try
        {
            var store = new FileStore(folder);
            var kept = await store.SaveAsync(new MemoryStream("a;b\n"u8.ToArray()), "x.csv", FileRule.Measurements, TestContext.Current.CancellationToken);
            var response = new DefaultHttpContext().Response;

            var answer = FileDelivery.Deliver(response, store, kept.Sha256, kept.Type, "Maß.csv", show: true);
            await answer.FileStream.DisposeAsync();

            Assert.Equal("text/csv", answer.ContentType);
            // RFC 6266 5 and RFC 8187 3.2: UTF-8, percent-encoded, beside a plain fallback; text is saved, never shown.
            Assert.StartsWith("attachment; filename=", response.Headers.ContentDisposition.ToString());
            Assert.Contains("filename*=UTF-8''Ma%C3%9F.csv", response.Headers.ContentDisposition.ToString());
            Assert.Equal("nosniff", response.Headers.XContentTypeOptions);
            Assert.StartsWith("sandbox;", response.Headers.ContentSecurityPolicy.ToString());
            Assert.Equal($"\"{kept.Sha256}\"", answer.EntityTag!.Tag.ToString());
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
