using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Tests.Import;

namespace FabLink.Portal.Tests.Files;

public sealed class FileStoreTests : IDisposable
{
    private static readonly FileRule Anything = new(1_000_000, FileType.Pdf, FileType.Dxf, FileType.Step, FileType.Png, FileType.Jpeg, FileType.Text, FileType.Xlsx, FileType.Qif);
    private readonly string folder = Directory.CreateTempSubdirectory("fablink-files-").FullName;
    private readonly FileStore store;

    public FileStoreTests() => store = new FileStore(folder);

    public void Dispose() => Directory.Delete(folder, recursive: true);

    [Fact]
    public async Task A_file_is_kept_under_its_SHA_256_and_comes_back_byte_for_byte()
    {
        // FIPS 180-4 as shown in NIST's example "abc".
        const string Sha256OfAbc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

        var kept = await SaveAsync("abc"u8.ToArray(), "values.csv");

        Assert.Equal(new StoredFile(Sha256OfAbc, 3, FileType.Text), kept);
        await using var stream = store.OpenRead(Sha256OfAbc);
        Assert.Equal("abc"u8.ToArray(), await AllAsync(stream));
    }

    [Fact]
    public async Task The_same_content_twice_is_kept_once_and_nothing_is_left_aside()
    {
        var first = await SaveAsync("a,b\n1,2\n"u8.ToArray(), "one.csv");
        var second = await SaveAsync("a,b\n1,2\n"u8.ToArray(), "other.csv");

        Assert.Equal(first, second);
        Assert.Single(Directory.GetFiles(folder, "*", SearchOption.AllDirectories));
    }

    [Fact]
    public async Task Uploads_of_the_same_content_at_once_do_not_disturb_each_other()
    {
        var content = RandomNumberGenerator.GetHexString(300_000).Select(letter => (byte)letter).ToArray();

        var kept = await Task.WhenAll(Enumerable.Range(0, 8).Select(_ => Task.Run(() => SaveAsync(content, "v.csv"))));

        Assert.Single(kept.Distinct());
        await using var stream = store.OpenRead(kept[0].Sha256);
        Assert.Equal(content, await AllAsync(stream));
    }

    [Fact]
    public async Task A_file_larger_than_the_rule_is_refused_while_it_streams_in()
    {
        await using var endless = new Endless();

        var refused = await Assert.ThrowsAsync<FileRefused>(
            () => store.SaveAsync(endless, "big.csv", new FileRule(2_000_000, FileType.Text), TestContext.Current.CancellationToken));

        Assert.Contains("'big.csv' is larger than the 2 MB", refused.Message);
        Assert.InRange(endless.Given, 2_000_000, 2_500_000);
        Assert.Empty(Directory.GetFiles(folder, "*", SearchOption.AllDirectories));
    }

    [Fact]
    public async Task The_content_decides_and_the_refusal_names_the_file_and_what_is_accepted()
    {
        var refused = await Assert.ThrowsAsync<FileRefused>(() => store.SaveAsync(
            new MemoryStream("MZ\0\0program"u8.ToArray()), "../drawing.pdf", FileRule.Drawing, TestContext.Current.CancellationToken));
        Assert.Contains("'drawing.pdf'", refused.Message);
        Assert.Contains("PDF, DXF, STEP", refused.Message);

        var other = await Assert.ThrowsAsync<FileRefused>(() => store.SaveAsync(
            new MemoryStream("%PDF-1.7\n"u8.ToArray()), "values.csv", FileRule.Measurements, TestContext.Current.CancellationToken));
        Assert.Contains("'values.csv' is PDF", other.Message);
    }

    [Fact]
    public async Task An_empty_file_is_refused() =>
        Assert.Contains("'x.csv' is empty", (await Assert.ThrowsAsync<FileRefused>(() => SaveAsync([], "x.csv"))).Message);

    public static TheoryData<string, string> Openings => new()
    {
        { "pdf", "%PDF-1.4\n" },
        { "pdf", "junk of a gateway\r\n%PDF-1.4\n" },
        { "step", "ISO-10303-21;\nHEADER;\n" },
        { "dxf", "  0\r\nSECTION\r\n  2\r\nHEADER\r\n" },
        { "dxf", "999\nmade by hand\n0\nSECTION\n2\nENTITIES\n" },
        { "text", "balloon;value\n1;12,05\n" },
        { "text", "Stück;Maß\r\n" },
        { "qif", "<?xml version=\"1.0\"?><!-- c --><QIFDocument xmlns=\"http://qifstandards.org/xsd/qif3\"/>" },
    };

    [Theory]
    [MemberData(nameof(Openings))]
    public async Task A_type_is_recognised_by_how_the_content_begins(string code, string opening) =>
        Assert.Equal(code, (await SaveAsync(Encoding.UTF8.GetBytes(opening), "x")).Type.Code);

    public static TheoryData<string, string> Strange => new()
    {
        { "a page", "<!doctype html><script>alert(1)</script>" },
        { "a drawing with script", "<svg xmlns=\"http://www.w3.org/2000/svg\" onload=\"alert(1)\"/>" },
        { "XML of another kind", "<?xml version=\"1.0\"?><QIFDocument xmlns=\"http://elsewhere.example/\"/>" },
        { "XML with entities", "<!DOCTYPE x [<!ENTITY a \"aaaa\">]><QIFDocument xmlns=\"http://qifstandards.org/xsd/qif3\">&a;</QIFDocument>" },
        { "a zip that is no workbook", "PK\u0003\u0004" },
        { "a program", "\u007fELF" },
    };

    [Theory]
    [MemberData(nameof(Strange))]
    public async Task What_is_nothing_that_the_portal_keeps_is_refused(string what, string content) =>
        Assert.Contains("is none of", (await Assert.ThrowsAsync<FileRefused>(() => SaveAsync(Encoding.Latin1.GetBytes(content), what))).Message);

    [Fact]
    public async Task A_package_with_a_workbook_is_XLSX_and_another_archive_is_not()
    {
        // ISO/IEC 29500-2, 10.1.2: the content types stream; part names of a workbook from common practice.
        Assert.Equal(FileType.Xlsx, (await SaveAsync(Archive("[Content_Types].xml", "xl/workbook.xml"), "x")).Type);
        await Assert.ThrowsAsync<FileRefused>(() => SaveAsync(Archive("[Content_Types].xml", "word/document.xml"), "x"));
    }

    [Theory]
    [InlineData("pdf", "*.pdf", "pdf")]
    [InlineData("dxf", "*.dxf", "dxf")]
    [InlineData("xlsx", "*.xls*", "xlsx")]
    [InlineData("zip", "*.zip", null)]
    public async Task Hostile_files_are_recognised_or_refused_and_never_break_anything(string kind, string pattern, string? expected)
    {
        var recognised = 0;
        foreach (var sample in OutsideFiles.In(kind, pattern))
        {
            await using var content = File.OpenRead(sample);
            try
            {
                var kept = await store.SaveAsync(content, Path.GetFileName(sample), Anything, TestContext.Current.CancellationToken);
                Assert.Equal(expected, kept.Type.Code);
                recognised++;
            }
            catch (FileRefused refused)
            {
                Assert.Contains(Path.GetFileName(sample), refused.Message);
            }
        }

        Assert.Equal(expected is not null, recognised > 0);
        Assert.Empty(Directory.GetFiles(Path.Combine(folder, "incoming")));
    }

    [Fact]
    public async Task Only_what_is_old_is_swept_from_interrupted_uploads()
    {
        var now = DateTimeOffset.UtcNow;
        var old = Path.Combine(folder, "incoming", "old");
        var fresh = Path.Combine(folder, "incoming", "fresh");
        await File.WriteAllTextAsync(old, "half");
        await File.WriteAllTextAsync(fresh, "half");
        File.SetLastWriteTimeUtc(old, now.UtcDateTime.AddHours(-7));

        Assert.Equal(1, store.Sweep(now.AddHours(-6)));

        Assert.False(File.Exists(old));
        Assert.True(File.Exists(fresh));
    }

    [Theory]
    [InlineData("../../etc/passwd")]
    [InlineData("BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD")]
    [InlineData("")]
    public void A_name_that_is_no_digest_opens_nothing(string name) => Assert.Throws<ArgumentException>(() => store.OpenRead(name));

    private Task<StoredFile> SaveAsync(byte[] content, string name) =>
        store.SaveAsync(new MemoryStream(content), name, Anything, TestContext.Current.CancellationToken);

    private static async Task<byte[]> AllAsync(Stream stream)
    {
        using var all = new MemoryStream();
        await stream.CopyToAsync(all);
        return all.ToArray();
    }

    private static byte[] Archive(params string[] names)
    {
        using var bytes = new MemoryStream();
        using (var archive = new ZipArchive(bytes, ZipArchiveMode.Create, leaveOpen: true))
            foreach (var name in names) archive.CreateEntry(name);
        return bytes.ToArray();
    }

    /// <summary>A sender that announces nothing and never stops.</summary>
    private sealed class Endless : Stream
    {
        public long Given { get; private set; }

        public override bool CanRead => true;

        public override bool CanSeek => false;

        public override bool CanWrite => false;

        public override long Length => throw new NotSupportedException();

        public override long Position { get => Given; set => throw new NotSupportedException(); }

        public override int Read(byte[] buffer, int offset, int count)
        {
            buffer.AsSpan(offset, count).Fill((byte)'x');
            Given += count;
            return count;
        }

        public override void Flush() => throw new NotSupportedException();

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }

    [Fact]
    public void A_folder_is_flushed_and_one_that_is_not_there_is_an_error()
    {
        var here = Directory.CreateTempSubdirectory("fablink-flush-").FullName;
        FolderFlush.ToDisk(here);
        Directory.Delete(here);
        if (!OperatingSystem.IsWindows())
            Assert.Contains(here, Assert.Throws<IOException>(() => FolderFlush.ToDisk(here)).Message, StringComparison.Ordinal);
    }
}
