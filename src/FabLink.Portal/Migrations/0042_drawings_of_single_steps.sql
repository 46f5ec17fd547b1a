-- A fabricator that has only a step of the route - it welds, bends or machines - works from the drawing; a coater needs the masking and nothing else.
create function actor_kind() returns text language sql stable security definer set search_path = public, pg_temp as $$
    select kind from organisation where id = actor_organisation()
$$;
revoke execute on function actor_kind() from public;
grant execute on function actor_kind() to fablink_app;

alter policy shared on revision_file
    using (revision_id in (select my_subjects())
           and (purpose = 'mask map' or (select actor_kind()) = 'fabricator'
                or revision_id in (select subject_id from party where organisation_id = (select actor_organisation()) and relation = 'shop')));
