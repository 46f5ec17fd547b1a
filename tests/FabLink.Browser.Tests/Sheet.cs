using System.Text.RegularExpressions;
using Deque.AxeCore.Commons;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>One page in the browser, and what every page of the portal must stand up to.</summary>
public sealed class Sheet : IAsyncDisposable
{
    /// <summary>axe-core as it is packaged. Its binding for Playwright opens a page of its own for each run, which costs more than the run; no page here has frames.</summary>
    private static readonly Lazy<string> Axe = new(static () =>
    {
        using var script = typeof(AxeResult).Assembly.GetManifestResourceStream("Deque.AxeCore.Commons.Resources.axe.min.js")!;
        using var reader = new StreamReader(script);
        return reader.ReadToEnd();
    });

    private readonly List<string> _complaints = [];

    internal Sheet(IPage page)
    {
        Page = page;
        page.PageError += (_, error) => _complaints.Add(error);
        page.Console += (_, line) =>
        {
            // A refused page writes its own status to the console; that is what the test asked for.
            if (line.Type == "error" && !line.Text.StartsWith("Failed to load resource: the server responded with a status of 4", StringComparison.Ordinal))
                _complaints.Add(line.Text);
        };
    }

    public IPage Page { get; }

    public async Task<IResponse> GoAsync(string path) =>
        await Page.GotoAsync(path, new() { WaitUntil = WaitUntilState.Load }) ?? throw new InvalidOperationException($"{path} gave no answer.");

    /// <summary>Waits until the address matches. It is asked again and again: waiting for the event of a load that is over already would wait in vain.</summary>
    public Task AtAsync(string pattern) => Assertions.Expect(Page).ToHaveURLAsync(new Regex(pattern));

    /// <summary>Presses what sends a form or leads elsewhere, and waits until the page that answers is there whole.</summary>
    public async Task PressAsync(ILocator button)
    {
        await Page.EvaluateAsync("() => { window.pressed = true; }");
        await button.ClickAsync();
        for (var patience = 0; patience < 600; patience++)
        {
            try
            {
                if (await Page.EvaluateAsync<bool>("() => !window.pressed && document.readyState === 'complete'"))
                    return;
            }
            catch (PlaywrightException)
            {
                // Between two documents there is nothing to ask.
            }

            await Task.Delay(50, TestContext.Current.CancellationToken);
        }

        Assert.Fail($"Nothing answered on {Page.Url}.");
    }

    /// <summary>Signs in with a password, as a person would.</summary>
    public async Task SignInAsync(string email, string password)
    {
        await GoAsync("/sign-in");
        var form = Page.Locator("form:has(input[type=password])");
        await form.Locator("[name=Email]").FillAsync(email);
        await form.Locator("[name=Password]").FillAsync(password);
        await form.Locator("button").ClickAsync();
        await AtAsync("^(?!.*/sign-in)");
    }

    /// <summary>Everything that holds for any page at this width: no axe violation, no script error, nothing wider than the screen, rows that know their labels, forms that can be sent.</summary>
    public async Task StandsAsync() => Assert.Empty(await FaultsAsync());

    /// <summary>What is wrong with the page by the measure of <see cref="StandsAsync"/>, one line each.</summary>
    public async Task<IReadOnlyList<string>> FaultsAsync()
    {
        if (await Page.EvaluateAsync<bool>("() => typeof axe === 'undefined'"))
            await Page.EvaluateAsync(Axe.Value);
        var violations = await Page.EvaluateAsync<string[]>("""
            async () => (await axe.run(document, { resultTypes: ['violations'] })).violations.flatMap(v => v.nodes.map(node => `${v.id}: ${v.help}: ${node.html}`))
            """);
        var wide = await Page.EvaluateAsync<string[]>("""
            () => document.documentElement.scrollWidth <= innerWidth ? [] :
              [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => `wider than the screen: ${e.tagName}.${e.className}`).slice(0, 5)
            """);
        var unlabelled = await Page.EvaluateAsync<string[]>("""
            () => [...document.querySelectorAll('table.rows tbody tr > *:not([data-label]):not([colspan])')].filter(e => e.textContent.trim()).map(e => `no data-label: ${e.outerHTML}`).slice(0, 5)
            """);
        // A required choice whose chosen value is empty keeps the browser from sending the form, however often the button is pressed.
        var stuck = await Page.EvaluateAsync<string[]>("""
            () => [...document.querySelectorAll('select:invalid')].map(e => `the browser does not send it: ${e.outerHTML.slice(0, 120)}`).slice(0, 5)
            """);
        string[] faults =
        [
            .. violations, .. _complaints, .. wide, .. unlabelled, .. stuck,
        ];
        _complaints.Clear();
        return faults;
    }

    /// <summary>On a phone everything that is pressed is at least 44 px tall; links inside running text are excepted (WCAG 2.2, 2.5.8).</summary>
    public async Task FitsAThumbAsync() => Assert.Empty(await SmallTargetsAsync());

    /// <summary>What a thumb would miss, by the measure of <see cref="FitsAThumbAsync"/>.</summary>
    public async Task<IReadOnlyList<string>> SmallTargetsAsync() => await Page.EvaluateAsync<string[]>("""
        () => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea')]
          .filter(e => !e.closest('p, dd, .words, .skip, .title-block, figcaption, .mark') && !e.classList.contains('skip') && e.getClientRects().length)
          .map(e => ({ e, box: (e.closest('.tick') ?? e).getBoundingClientRect() }))
          .filter(({ box }) => box.height < 43.5)
          .map(({ e, box }) => `${Math.round(box.height)} px tall: ${e.outerHTML.slice(0, 120)}`)
        """);

    /// <summary>Where the links of the page lead within the portal, without their queries; downloads left out.</summary>
    public async Task<IReadOnlyList<string>> LinksAsync() => await Page.EvaluateAsync<string[]>("""
        () => [...document.querySelectorAll('a[href]:not([download])')].map(a => new URL(a.href)).filter(u => u.origin === location.origin).map(u => u.pathname)
        """);

    /// <summary>Goes through the whole page by Tab. Each stop must be seen (on the screen, with a focus ring) and in the order of the page. Answers the stops.</summary>
    public async Task<IReadOnlyList<string>> WalkAsync()
    {
        var stops = new List<string>();
        await Page.EvaluateAsync("() => { document.activeElement?.blur(); window.scrollTo(0, 0); }");
        var expected = await Page.EvaluateAsync<int>("""
            () => {
              const radios = new Set();
              return [...document.querySelectorAll('a[href], button:not([disabled]), input:not([type=hidden]):not([disabled]), select, textarea, summary, [tabindex="0"]')]
                .filter(e => e.getClientRects().length)
                .filter(e => e.type !== 'radio' || !radios.has(e.name) && radios.add(e.name)).length;
            }
            """);
        for (var i = 0; i < expected; i++)
        {
            await Page.Keyboard.PressAsync("Tab");
            // A date field has stops of its own inside (day, month, year, calendar); they are one stop of the page.
            for (var inside = 0; inside < 6 && await Page.EvaluateAsync<bool>("() => document.activeElement !== document.body && document.activeElement === window.lastStop"); inside++)
                await Page.Keyboard.PressAsync("Tab");
            var stop = await Page.EvaluateAsync<string>("""
                () => {
                  const e = document.activeElement, box = e.getBoundingClientRect(), style = getComputedStyle(e);
                  const name = `${e.tagName.toLowerCase()} ${(e.getAttribute('aria-label') ?? e.labels?.[0]?.textContent ?? e.textContent).trim().replace(/\s+/g, ' ').slice(0, 60)}`;
                  if (e === document.body) return 'LOST';
                  const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
                  const seen = box.bottom > 0 && box.top < innerHeight && box.width > 0;
                  const before = window.lastStop && !(window.lastStop.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING);
                  window.lastStop = e;
                  return (ring ? '' : 'NO RING ') + (seen ? '' : 'OUT OF SIGHT ') + (before ? 'BACKWARDS ' : '') + name;
                }
                """);
            stops.Add(stop);
        }

        Assert.DoesNotContain(stops, stop => stop.StartsWith("NO RING", StringComparison.Ordinal) || stop.StartsWith("OUT OF SIGHT", StringComparison.Ordinal)
            || stop.StartsWith("BACKWARDS", StringComparison.Ordinal) || stop == "LOST");
        return stops;
    }

    /// <summary>
    /// The page as PNG files in artifacts/, for people to look at; a long page in several, so that it can be read. Only with FABLINK_PICTURES=1:
    /// without a graphics card a picture takes longer than all that is checked.
    /// </summary>
    public async Task PictureAsync(string name)
    {
        if (Environment.GetEnvironmentVariable("FABLINK_PICTURES") != "1")
            return;
        const int Slice = 1700;
        var folder = Directory.CreateDirectory(Path.Combine(Repository.Root, "artifacts")).FullName;
        await Page.EvaluateAsync("() => document.fonts.ready");
        var size = await Page.EvaluateAsync<int[]>("() => [innerWidth, document.documentElement.scrollHeight]");
        for (int top = 0, number = 1; top < size[1]; top += Slice, number++)
        {
            await Page.ScreenshotAsync(new()
            {
                Path = Path.Combine(folder, size[1] <= Slice ? $"{name}.png" : $"{name}-{number}.png"),
                FullPage = true,
                Clip = new() { X = 0, Y = top, Width = size[0], Height = Math.Min(Slice, size[1] - top) },
            });
        }
    }

    public async ValueTask DisposeAsync() => await Page.Context.CloseAsync();
}

/// <summary>A screen by day and a phone by night: both widths and both palettes in two looks, enough for a page whose parts stand in the gallery.</summary>
public sealed class TwoVariants : TheoryData<int, bool>
{
    public TwoVariants()
    {
        Add(1280, false);
        Add(390, true);
    }
}

/// <summary>The four ways in which the gallery, which shows every part, is looked at.</summary>
public sealed class Variants : TheoryData<int, bool>
{
    public Variants()
    {
        Add(1280, false);
        Add(1280, true);
        Add(390, false);
        Add(390, true);
    }
}
