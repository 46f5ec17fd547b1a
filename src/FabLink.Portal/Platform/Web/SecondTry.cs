using Npgsql;

namespace FabLink.Portal.Platform.Web;

/// <summary>
/// Two people at the same rows may wait for each other until PostgreSQL ends one of their transactions. All of that one is taken back,
/// so it is simply done again; only when that goes wrong twice more is the person told.
/// </summary>
public static class SecondTry
{
    private const int Runs = 3;

    /// <summary>Goes between the guards of a request and its endpoint: what was checked stays checked, a form that was read stays read.</summary>
    public static async Task InvokeAsync(HttpContext context, RequestDelegate next)
    {
        var headers = context.Response.Headers.ToArray();
        for (var run = 1; ; run++)
        {
            try
            {
                await next(context);
                return;
            }
            catch (PostgresException crossed) when (IsOfTwo(crossed.SqlState) && !context.Response.HasStarted)
            {
                context.Response.Clear();
                foreach (var (name, value) in headers)
                    context.Response.Headers[name] = value;
                if (run < Runs && CanBeReadAgain(context.Request))
                    continue;
                context.Response.StatusCode = StatusCodes.Status503ServiceUnavailable;
                context.Response.Headers.RetryAfter = "1";
                return;
            }
        }
    }

    private static bool IsOfTwo(string code) => code is PostgresErrorCodes.DeadlockDetected or PostgresErrorCodes.SerializationFailure;

    /// <summary>A form is kept with the request, its files too; another body is gone once it was read.</summary>
    private static bool CanBeReadAgain(HttpRequest request) => request.HasFormContentType || request.ContentLength is null or 0;
}
