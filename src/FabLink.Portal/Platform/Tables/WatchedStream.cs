namespace FabLink.Portal.Platform.Tables;

/// <summary>What all parts of one workbook may still unpack to.</summary>
internal sealed class UnpackedBudget
{
    private long left = SheetLimits.UnpackedBytes;

    public void Take(int bytes)
    {
        if ((left -= bytes) < 0)
            throw new SheetRefusal($"The workbook unpacks to more than {SheetLimits.UnpackedBytes / 1024 / 1024} MB. Split it into several files.");
    }
}

/// <summary>
/// Counts what is unpacked, in all and for one XML node, because an XML reader keeps a whole node (a tag with its attributes,
/// a text) in memory before anybody can look at it.
/// </summary>
internal sealed class WatchedStream(Stream inner, UnpackedBudget budget) : Stream
{
    // A full cell of characters written as &#x10FFFF; and the reader's own buffer ahead.
    private const int MostBytesOfNode = 12 * SheetLimits.CellCharacters;
    private int bytesOfNode;

    public void NextNode() => bytesOfNode = 0;

    public override int Read(Span<byte> buffer)
    {
        var read = inner.Read(buffer);
        budget.Take(read);
        if ((bytesOfNode += read) > MostBytesOfNode)
            throw new SheetRefusal($"The workbook holds a text of more than {SheetLimits.CellCharacters} characters, which no spreadsheet can show.");
        return read;
    }

    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    public override bool CanRead => true;

    public override bool CanSeek => false;

    public override bool CanWrite => false;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    public override void Flush()
    {
    }

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
        if (disposing)
            inner.Dispose();
        base.Dispose(disposing);
    }
}
