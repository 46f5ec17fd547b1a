using Microsoft.AspNetCore.Mvc;
using Microsoft.Net.Http.Headers;

namespace FabLink.Portal.Platform.Files;

/// <summary>Answers a request with a kept file so that a browser can do no harm with it. Ask for permission first.</summary>
public static class FileDelivery
{
    /// <param name="show">Shown by the browser where the type allows it; else saved.</param>
    /// <exception cref="FileNotFoundException">The store does not hold it.</exception>
    public static FileStreamResult Deliver(HttpResponse response, FileStore store, string sha256, FileType type, string name, bool show = false)
    {
        // RFC 6266 with the extended notation of RFC 8187 for what ASCII cannot say.
        var disposition = new ContentDispositionHeaderValue(show && type.MayShowInPage ? "inline" : "attachment");
        disposition.SetHttpFileName(FileNames.ForDownload(name, type));

        var headers = response.Headers;
        headers.ContentDisposition = disposition.ToString();
        headers.XContentTypeOptions = "nosniff";
        headers.ContentSecurityPolicy = "sandbox; default-src 'none'; img-src 'self'; style-src 'unsafe-inline'";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        // Named by its content, it never changes; but the permission may: ask every time.
        headers.CacheControl = "private, no-cache";
        return new FileStreamResult(store.OpenRead(sha256), type.ContentType)
        {
            EnableRangeProcessing = true,
            EntityTag = new EntityTagHeaderValue($"\"{sha256}\""),
        };
    }
}
