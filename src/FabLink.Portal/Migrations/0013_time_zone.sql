-- Where an organisation's day begins: an IANA name, or nothing for the setting of the portal. Days (date) are days, wherever they are read.
alter table organisation add column zone text check (zone ~ '^[A-Za-z0-9_+-]+(/[A-Za-z0-9_+-]+)*$' and length(zone) <= 60);
grant update (zone) on organisation to fablink_app;
create policy own_zone on organisation for update to fablink_app
    using (id = (select actor_organisation())) with check (id = (select actor_organisation()));
