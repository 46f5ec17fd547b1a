using System.Security.Claims;
using System.Xml.Linq;
using Dapper;
using FabLink.Portal.Platform.Database;
using Microsoft.AspNetCore.DataProtection;
using Microsoft.AspNetCore.DataProtection.KeyManagement;
using Microsoft.AspNetCore.DataProtection.Repositories;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.Options;

namespace FabLink.Portal.Platform.People;

/// <summary>Sign-in: Identity with our stores, a cookie that stays on the device, keys kept in PostgreSQL.</summary>
public static class PeopleSetup
{
    /// <summary>A device stays signed in this long after it was last used.</summary>
    public static readonly TimeSpan StaysSignedIn = TimeSpan.FromDays(180);

    public static IServiceCollection AddPeople(this IServiceCollection services)
    {
        services.AddAuthentication(IdentityConstants.ApplicationScheme).AddCookie(IdentityConstants.ApplicationScheme, cookie =>
        {
            cookie.Cookie.Name = "fablink";
            cookie.Cookie.HttpOnly = true;
            cookie.Cookie.SameSite = SameSiteMode.Lax;
            cookie.ExpireTimeSpan = StaysSignedIn;
            cookie.SlidingExpiration = true;
            cookie.LoginPath = "/sign-in";
            cookie.AccessDeniedPath = "/not-for-you";
            cookie.ReturnUrlParameter = "to";
            cookie.Events.OnValidatePrincipal = SecurityStampValidator.ValidatePrincipalAsync;
            // Programs get a plain answer, people get the page.
            cookie.Events.OnRedirectToLogin = context => Answer(context, StatusCodes.Status401Unauthorized);
            cookie.Events.OnRedirectToAccessDenied = context => Answer(context, StatusCodes.Status403Forbidden);
        });
        services.AddIdentityCore<SignInPerson>(identity =>
            {
                identity.Password.RequiredLength = 12;
                identity.Password.RequireDigit = false;
                identity.Password.RequireLowercase = false;
                identity.Password.RequireUppercase = false;
                identity.Password.RequireNonAlphanumeric = false;
                identity.Lockout.MaxFailedAccessAttempts = 8;
                identity.Lockout.DefaultLockoutTimeSpan = TimeSpan.FromMinutes(10);
            })
            .AddSignInManager()
            .AddDefaultTokenProviders();
        services.AddScoped<IUserStore<SignInPerson>, PersonStore>();
        services.AddScoped<IUserClaimsPrincipalFactory<SignInPerson>, ClaimsFactory>();
        services.Configure<SecurityStampValidatorOptions>(stamps => stamps.ValidationInterval = TimeSpan.FromMinutes(2));
        services.AddDataProtection().SetApplicationName("FabLink");
        services.AddSingleton<IConfigureOptions<KeyManagementOptions>>(provider =>
            new ConfigureOptions<KeyManagementOptions>(keys => keys.XmlRepository = new KeysInPostgres(provider.GetRequiredService<DataSources>())));
        services.AddAuthorization();
        return services;
    }

    private static Task Answer(Microsoft.AspNetCore.Authentication.RedirectContext<Microsoft.AspNetCore.Authentication.Cookies.CookieAuthenticationOptions> context, int status)
    {
        if (context.Request.Path.StartsWithSegments("/api", StringComparison.Ordinal))
            context.Response.StatusCode = status;
        else if (status == StatusCodes.Status403Forbidden)
            context.Response.StatusCode = status;
        else
            context.Response.Redirect(context.RedirectUri);
        return Task.CompletedTask;
    }

    private sealed class ClaimsFactory(IOptions<IdentityOptions> options) : IUserClaimsPrincipalFactory<SignInPerson>
    {
        public Task<ClaimsPrincipal> CreateAsync(SignInPerson user)
        {
            var identity = new ClaimsIdentity(user.ToActor().ToClaims(), IdentityConstants.ApplicationScheme, ClaimTypes.Name, ClaimTypes.Role);
            identity.AddClaim(new Claim(options.Value.ClaimsIdentity.SecurityStampClaimType, user.SecurityStamp));
            return Task.FromResult(new ClaimsPrincipal(identity));
        }
    }

    private sealed class KeysInPostgres(DataSources sources) : IXmlRepository
    {
        public IReadOnlyCollection<XElement> GetAllElements()
        {
            using var connection = sources.SignIn.OpenConnection();
            return [.. connection.Query<string>("select xml from data_protection_key order by created_at").Select(XElement.Parse)];
        }

        public void StoreElement(XElement element, string friendlyName)
        {
            const string Insert = "insert into data_protection_key (friendly_name, xml) values (@friendlyName, @Xml) on conflict do nothing";
            using var connection = sources.SignIn.OpenConnection();
            connection.Execute(Insert, new { friendlyName, Xml = element.ToString(SaveOptions.DisableFormatting) });
        }
    }
}
