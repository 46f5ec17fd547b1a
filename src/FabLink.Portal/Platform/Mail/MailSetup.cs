namespace FabLink.Portal.Platform.Mail;

public static class MailSetup
{
    /// <summary>
    /// The sender with section <c>Mail</c>. Without <c>Mail:Host</c> the mail goes to a <see cref="MailSink"/> that keeps
    /// it in <c>mail</c> of the data folder; ask the container for the sink to know whether there is one.
    /// </summary>
    public static IServiceCollection AddMail(this IServiceCollection services, IConfiguration configuration, string dataFolder)
    {
        services.AddSingleton<MailSender>();
        services.Configure<MailOptions>(configuration.GetSection("Mail"));
        if (!string.IsNullOrWhiteSpace(configuration["Mail:Host"])) return services;

        services.AddSingleton(provider => new MailSink(Path.Combine(dataFolder, "mail"), provider.GetRequiredService<TimeProvider>()));
        services.AddHostedService(provider => provider.GetRequiredService<MailSink>());
        services.AddOptions<MailOptions>().Configure<MailSink>((mail, sink) =>
            (mail.Host, mail.Port, mail.Security, mail.User) = ("127.0.0.1", sink.Port, MailSecurity.None, null));
        return services;
    }
}
