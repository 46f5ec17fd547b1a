using System.Text.Json;
using System.Text.Json.Nodes;
using FabLink.Engineering;
using FabLink.Portal.Platform.People;
using Microsoft.AspNetCore.Http.Metadata;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.OpenApi;
using Microsoft.OpenApi;

namespace FabLink.Portal.Features.Calculations;

/// <summary>
/// <c>POST /api/v1/calculations/&lt;name&gt;</c> for every calculator, and what <c>/openapi/v1.json</c> says about them. Stateless: nothing is
/// read from the record and nothing is kept, so no form token is asked for.
/// </summary>
internal static class CalculationsApi
{
    public const string RateLimit = "calculations";
    public const string Root = "/api/v1/calculations";
    public const int MostBytes = 8_000_000;

    public static IServiceCollection AddCalculations(this IServiceCollection services)
    {
        services.ConfigureHttpJsonOptions(http => CalculationJson.Set(http.SerializerOptions));
        services.AddOpenApi("v1", description =>
        {
            description.ShouldInclude = endpoint => endpoint.RelativePath?.StartsWith("api/", StringComparison.Ordinal) == true;
            description.AddDocumentTransformer(Head);
            description.AddOperationTransformer(Example);
        });
        return services;
    }

    public static void MapCalculations(this WebApplication app)
    {
        app.MapOpenApi();
        var group = app.MapGroup(Root).WithTags("Calculations").RequireRateLimiting(RateLimit).AddEndpointFilter(SignedInOrOpenAsync);
        group.MapGet("", Index).WithSummary("Every calculation, its limits and an example.");
        foreach (var calculator in Calculators.All)
        {
            Func<HttpContext, Task<IResult>> answer = context => AnswerAsync(context, calculator);
            group.MapPost(calculator.Name, answer)
                .WithName(calculator.Name)
                .WithSummary(calculator.Title)
                .WithDescription($"{calculator.Summary} Limits: {calculator.Limits}")
                .WithMetadata(new RequestSizeLimitAttribute(MostBytes), calculator)
                .WithMetadata(new AcceptsMetadata(["application/json"], calculator.Question))
                .WithMetadata(new ProducesResponseTypeMetadata(StatusCodes.Status200OK, calculator.Answer, ["application/json"]))
                .ProducesProblem(StatusCodes.Status400BadRequest)
                .ProducesProblem(StatusCodes.Status422UnprocessableEntity);
        }

        group.Map("{**name}", Elsewhere).ExcludeFromDescription();
    }

    private static IResult Index() => Results.Json(
        from calculator in Calculators.All
        select new { calculator.Name, Path = $"{Root}/{calculator.Name}", calculator.Title, calculator.Summary, calculator.Limits, Example = JsonNode.Parse(calculator.Example) },
        CalculationJson.Options);

    private static IResult Elsewhere(HttpContext context, string? name)
    {
        if (Calculators.Find(name ?? "") is null)
            return Problem(StatusCodes.Status404NotFound, $"There is no calculation “{name}”. There are {string.Join(", ", Calculators.All.Select(each => each.Name))}.");
        if (HttpMethods.IsPost(context.Request.Method))
            return Problem(StatusCodes.Status415UnsupportedMediaType, "The question is JSON: send it with Content-Type: application/json.");
        context.Response.Headers.Allow = "POST";
        return Problem(StatusCodes.Status405MethodNotAllowed, "A calculation is asked by POST.");
    }

    private static async ValueTask<object?> SignedInOrOpenAsync(EndpointFilterInvocationContext call, EndpointFilterDelegate next) =>
        IsOpenTo(call.HttpContext)
            ? await next(call)
            : Problem(StatusCodes.Status401Unauthorized, "Sign in first: this portal answers calculations for people it knows.");

    private static bool IsOpenTo(HttpContext context) =>
        context.RequestServices.GetRequiredService<IConfiguration>().GetValue("Calculations:Anonymous", false)
        || Actor.From(context.User)?.MayAnywhere(Deed.UseBench) == true;

    private static async Task<IResult> AnswerAsync(HttpContext context, Calculator calculator)
    {
        var seconds = context.RequestServices.GetRequiredService<IConfiguration>().GetValue("Calculations:Seconds", 30);
        using var time = CancellationTokenSource.CreateLinkedTokenSource(context.RequestAborted);
        time.CancelAfter(TimeSpan.FromSeconds(seconds));
        try
        {
            return Results.Bytes(await calculator.AnswerAsync(context.Request.Body, time.Token), "application/json");
        }
        catch (JsonException fault)
        {
            return Problem(StatusCodes.Status400BadRequest, CalculationJson.Reason(fault), CalculationJson.Pointer(fault.Path));
        }
        catch (InputError error)
        {
            return Problem(StatusCodes.Status422UnprocessableEntity, error.Message, error.Field.Length == 0 ? "" : "/" + error.Field);
        }
        catch (BadHttpRequestException refused)
        {
            return Problem(refused.StatusCode, refused.StatusCode == StatusCodes.Status413PayloadTooLarge
                ? $"The question is larger than {MostBytes / 1_000_000} MB."
                : "The question did not arrive whole.");
        }
        catch (OperationCanceledException) when (!context.RequestAborted.IsCancellationRequested)
        {
            return Problem(StatusCodes.Status422UnprocessableEntity, $"This takes longer than {seconds} s here. Ask for fewer samples, holes or points.");
        }
    }

    /// <summary>RFC 9457, with the field as a JSON pointer (RFC 6901); an empty pointer is the question as a whole.</summary>
    public static IResult Problem(int status, string detail, string? pointer = null) =>
        Results.Problem(detail, statusCode: status, extensions: pointer is null ? null : [new("pointer", pointer)]);

    private static Task Head(OpenApiDocument document, OpenApiDocumentTransformerContext context, CancellationToken cancellation)
    {
        document.Info = new OpenApiInfo
        {
            Title = "FabLink calculations",
            Version = "v1",
            Description = "Stateless calculations for parts that must fit: every answer names its sources and its cautions. They are calculation, not approval. "
                + "Errors are problem details (RFC 9457) whose pointer (RFC 6901) names the field.",
        };
        return Task.CompletedTask;
    }

    private static Task Example(OpenApiOperation operation, OpenApiOperationTransformerContext context, CancellationToken cancellation)
    {
        var calculator = context.Description.ActionDescriptor.EndpointMetadata.OfType<Calculator>().FirstOrDefault();
        if (calculator is not null && operation.RequestBody?.Content?.TryGetValue("application/json", out var body) == true)
            body.Example = JsonNode.Parse(calculator.Example);
        return Task.CompletedTask;
    }
}
