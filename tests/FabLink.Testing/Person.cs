using System.Net;
using System.Net.Http.Headers;
using AngleSharp.Dom;
using AngleSharp.Html.Dom;
using AngleSharp.Html.Parser;

namespace FabLink.Testing;

/// <summary>A page as it arrived, after redirects.</summary>
public sealed record Page(HttpStatusCode Status, Uri Address, string Html, IHtmlDocument Document, HttpResponseMessage Response)
{
    /// <summary>What a person reads: the text of the body with runs of white space as one blank.</summary>
    public string Text => string.Join(' ', (Document.Body?.TextContent ?? "").Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    /// <summary>The first element that matches, or a failure that shows the page.</summary>
    public IElement Find(string selector) => Document.QuerySelector(selector)
        ?? throw new InvalidOperationException($"{Address} ({(int)Status}) has nothing that matches '{selector}': {(Text.Length > 1500 ? Text[..1500] : Text)}");
}

/// <summary>A file that a person uploads.</summary>
public sealed record Upload(string Field, string FileName, byte[] Content, string ContentType = "application/octet-stream");

/// <summary>
/// Somebody at a browser without scripts: keeps cookies, follows redirects, fills in and sends the forms that the page
/// really has, hidden fields and antiforgery token included. The last page seen is <see cref="Page"/>.
/// </summary>
public sealed class Person(Uri portal) : IDisposable
{
    private readonly HttpClient client = new(new SocketsHttpHandler { CookieContainer = new CookieContainer(), AllowAutoRedirect = true })
    {
        BaseAddress = portal,
        Timeout = TimeSpan.FromSeconds(60),
    };

    private Page? page;

    /// <summary>For what is no page: the API, headers, raw bodies. Shares the cookies.</summary>
    public HttpClient Client => client;

    public Page Page => page ?? throw new InvalidOperationException("No page was opened yet: GetAsync first.");

    public async Task<Page> GetAsync(string path) => page = await ReadAsync(await client.GetAsync(new Uri(path, UriKind.RelativeOrAbsolute)));

    /// <summary>Sends a form of the page at hand.</summary>
    /// <param name="form">Selector of the form, or of a button in it (whose name and value are then sent too).</param>
    /// <param name="fields">Name and value; a name given several times fills the fields of that name in order. A check box takes <c>true</c> or <c>false</c>.</param>
    /// <exception cref="InvalidOperationException">The page has no such form, or the form no such field: a person could not have typed it.</exception>
    public async Task<Page> SubmitAsync(string form, IEnumerable<(string Name, string Value)>? fields = null, params IEnumerable<Upload> files)
    {
        var found = Page.Find(form);
        var owner = found as IHtmlFormElement
            ?? (found as IHtmlButtonElement)?.Form ?? (found as IHtmlInputElement)?.Form
            ?? throw new InvalidOperationException($"'{form}' on {Page.Address} is neither a form nor a button of one.");
        var button = ReferenceEquals(found, owner) ? owner.QuerySelector<IHtmlElement>("button:not([type=button]):not([type=reset]), input[type=submit]") : (IHtmlElement)found;
        var data = FormData.Of(owner, button, fields ?? [], files.ToList());
        var target = new Uri(Page.Address, button?.GetAttribute("formaction") ?? owner.GetAttribute("action") ?? "");
        var method = (button?.GetAttribute("formmethod") ?? owner.GetAttribute("method") ?? "get").ToUpperInvariant();
        var multipart = (owner.GetAttribute("enctype") ?? "").Equals("multipart/form-data", StringComparison.OrdinalIgnoreCase);

        if (method == "GET")
        {
            var query = await new FormUrlEncodedContent(data.Fields).ReadAsStringAsync();
            return await GetAsync(new UriBuilder(target) { Query = query }.Uri.AbsoluteUri);
        }

        if (data.Files.Count > 0 && !multipart)
            throw new InvalidOperationException($"The form '{form}' on {Page.Address} cannot carry files: it lacks enctype=\"multipart/form-data\".");
        using HttpContent content = multipart ? Multipart(data) : new FormUrlEncodedContent(data.Fields);
        return await PostAsync(target.AbsoluteUri, content);
    }

    public async Task<Page> PostAsync(string path, HttpContent content) =>
        page = await ReadAsync(await client.PostAsync(new Uri(path, UriKind.RelativeOrAbsolute), content));

    public async Task SignInAsync(string email, string password)
    {
        await GetAsync("/sign-in");
        await SubmitAsync("form:has(input[type=password]) button:not([formaction])", [("Email", email), ("Password", password)]);
        if (Page.Status != HttpStatusCode.OK || Page.Address.AbsolutePath == "/sign-in")
            throw new InvalidOperationException($"{email} could not sign in ({(int)Page.Status} at {Page.Address}): {Page.Text}");
    }

    public void Dispose() => client.Dispose();

    private static MultipartFormDataContent Multipart(FormData data)
    {
        var content = new MultipartFormDataContent();
        foreach (var (name, value) in data.Fields) content.Add(new StringContent(value), name);
        foreach (var file in data.Files)
        {
            var part = new ByteArrayContent(file.Content);
            part.Headers.ContentType = new MediaTypeHeaderValue(file.ContentType);
            content.Add(part, file.Field, file.FileName);
        }

        return content;
    }

    private static async Task<Page> ReadAsync(HttpResponseMessage response)
    {
        var html = await response.Content.ReadAsStringAsync();
        return new Page(response.StatusCode, response.RequestMessage!.RequestUri!, html, new HtmlParser().ParseDocument(html), response);
    }
}
