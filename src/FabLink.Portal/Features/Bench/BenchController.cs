using System.Text;
using System.Text.Json;
using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Bench;

/// <summary>
/// Calculators that need no record: what is typed is the question of the API, what comes out its answer. Nothing is kept; small
/// questions are in the address, so that a page can be sent to somebody.
/// </summary>
[Route("bench")]
[May(Deed.UseBench)]
public sealed class BenchController : Controller
{
    [HttpGet("")]
    public IActionResult Index() => View("Index", BenchEntry.All);

    [HttpGet("judge")]
    public IActionResult Judge(JudgeForm form) => Sheet("Judge", "judge", form, form.Question, JudgeTwins.Ask);

    [HttpGet("general-tolerance")]
    public IActionResult GeneralTolerance(GeneralToleranceForm form) =>
        Sheet("GeneralTolerance", "general-tolerance", form, form.Question, ToleranceTwins.GeneralTolerance);

    [HttpGet("fit")]
    public IActionResult Fit(FitForm form) => Sheet("Fit", "fit", form, form.Question, ToleranceTwins.Fit);

    [HttpGet("position")]
    public IActionResult Position(PositionForm form) => Sheet("Position", "position", form, form.Question, JudgeTwins.Position);

    [HttpGet("fasteners")]
    public IActionResult Fasteners(FastenerForm form) => Sheet("Fasteners", "fasteners", form, () => form, question => question.Answer());

    [HttpGet("gauge")]
    public IActionResult Gauge(GaugeForm form) => Sheet("Gauge", "gauge", form, () => form, question => question.Answer());

    [HttpGet("reach")]
    public IActionResult Reach(ReachForm form) => Sheet("Reach", "reach", form, form.Question, ReachCalculation.Answer);

    [HttpGet("sampling-plan")]
    public IActionResult SamplingPlan(SamplingPlanForm form) => Sheet("SamplingPlan", "sampling-plan", form, form.Question, SamplingTwins.Plan);

    [HttpGet("operating-curve")]
    public IActionResult OperatingCurve(OperatingCurveForm form) => Sheet("OperatingCurve", "operating-curve", form, form.Question, SamplingTwins.Curve);

    [AcceptVerbs("GET", "POST", Route = "feature")]
    public IActionResult Feature(FeatureForm form, IFormFile? file)
    {
        Take(file, form.TableField, text => form.Points = text);
        return Sheet("Feature", "feature", form, form.Question, question => new FeatureResult(question, Calculators.Feature(question, HttpContext.RequestAborted)));
    }

    [AcceptVerbs("GET", "POST", Route = "bolt-up")]
    public IActionResult BoltUp(BoltUpForm form, IFormFile? file)
    {
        Take(file, form.TableField, text => form.Holes = text);
        return Sheet("BoltUp", "bolt-up", form, form.Question, question => new BoltUpResult(question, Calculators.BoltUp(question, HttpContext.RequestAborted)));
    }

    [AcceptVerbs("GET", "POST", Route = "chain")]
    public IActionResult Chain(ChainForm form, IFormFile? file)
    {
        Take(file, form.TableField, text => form.Links = text);
        return Sheet("Chain", "chain", form, form.Question, question => ChainResult.Of(question, Calculators.Chain(question, HttpContext.RequestAborted), form.Unit));
    }

    [AcceptVerbs("GET", "POST", Route = "vector-loop")]
    public IActionResult VectorLoop(VectorLoopForm form, IFormFile? file)
    {
        Take(file, form.TableField, text => form.Links = text);
        return Sheet("VectorLoop", "vector-loop", form, form.Question, question => ChainResult.Of(question, Calculators.Loop(question, HttpContext.RequestAborted)));
    }

    [AcceptVerbs("GET", "POST", Route = "gauge-study")]
    public IActionResult GaugeStudy(GaugeStudyForm form, IFormFile? file)
    {
        Take(file, form.TableField, text => form.Measurements = text);
        return Sheet("GaugeStudy", "gauge-study", form, form.Question, question => new GaugeStudyResult(question, GaugeStudyTwin.Study(question)));
    }

    private bool IsAsked => HttpMethods.IsPost(Request.Method) || Request.Query.Count > 0;

    private string? Save => Request.HasFormContentType ? Request.Form["save"] : Request.Query["save"];

    private IActionResult Sheet<TForm, TQuestion, TAnswer>(string view, string name, TForm form, Func<TQuestion> read, Func<TQuestion, TAnswer> run)
        where TAnswer : class
    {
        TAnswer? answer = null;
        if (IsAsked && ModelState.IsValid)
        {
            try
            {
                var question = read();
                if (Save == "json")
                    return File(JsonSerializer.SerializeToUtf8Bytes(question, CalculationJson.Indented), "application/json", name + ".json");
                if (Save == "csv" && form is ITableForm table)
                    return File(Encoding.UTF8.GetBytes(Typed.Csv(table.TableText, table.TableField)), "text/csv; charset=utf-8", name + ".csv");
                answer = run(question);
            }
            catch (InputError error)
            {
                ModelState.AddModelError(BoxOf<TForm>(error.Field), error.Message);
            }
            catch (OverflowException)
            {
                ModelState.AddModelError("", "The numbers are so large that the answer is not a finite number.");
            }
        }

        if (!ModelState.IsValid)
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View(view, new BenchSheet<TForm, TAnswer>(BenchEntry.All.First(entry => entry.Name == name), form, answer));
    }

    /// <summary>An uploaded table takes the place of the pasted one and is shown in its box.</summary>
    private void Take(IFormFile? file, string box, Action<string> take)
    {
        if (file is null || file.Length == 0)
            return;
        try
        {
            take(Typed.Pasted(file, box));
            ModelState.Remove(box);
        }
        catch (InputError refusal)
        {
            ModelState.AddModelError("File", refusal.Message);
        }
    }

    /// <summary>The box of the form that a field of the question came from: <c>size/lower</c> from SizeLower, <c>holes/3/a/x</c> from Holes.</summary>
    private static string BoxOf<TForm>(string field)
    {
        var boxes = typeof(TForm).GetProperties().Select(property => property.Name).ToArray();
        var parts = field.Split('/');
        return boxes.FirstOrDefault(box => box.Equals(string.Concat(parts), StringComparison.OrdinalIgnoreCase))
            ?? boxes.FirstOrDefault(box => box.Equals(parts[0], StringComparison.OrdinalIgnoreCase))
            ?? "";
    }
}
