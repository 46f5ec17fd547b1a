-- Who may see and write a row. Grants say which commands exist at all; policies say for which rows.
-- Policies ask the narrow table of parties once per statement (a hashed sub-plan), never once per row.

-- Work orders in which the actor's organisation is the build shop or the shop.
create function my_orders() returns setof uuid language sql stable
    as $$ select subject_id from party where organisation_id = actor_organisation() and relation in ('owner', 'shop') $$;
create function my_own_orders() returns setof uuid language sql stable
    as $$ select subject_id from party where organisation_id = actor_organisation() and relation = 'owner' $$;
-- Lines (parts, revisions) of which it has a step to do, and parts, drawings, revisions that it makes.
create function my_process_subjects() returns setof uuid language sql stable
    as $$ select subject_id from party where organisation_id = actor_organisation() and relation = 'process' $$;
create function my_subjects() returns setof uuid language sql stable
    as $$ select subject_id from party where organisation_id = actor_organisation() $$;

revoke all on all tables in schema public from public;
revoke execute on all functions in schema public from public;
grant usage on schema public to fablink_app, fablink_jobs, fablink_signin;
grant execute on function actor_person(), actor_organisation() to fablink_app, fablink_jobs, fablink_signin;
grant execute on function known_organisations(), my_orders(), my_own_orders(), my_process_subjects(), my_subjects() to fablink_app;
grant execute on function tell(text, uuid, text[], uuid, uuid, text, text, text, text, timestamptz) to fablink_app, fablink_jobs;

do $$ declare t text; begin
    for t in select tablename from pg_tables where schemaname = 'public' and tablename not in ('schemaversions') loop
        execute format('alter table %I enable row level security', t);
    end loop;
end $$;

-- people ---------------------------------------------------------------------------------------------------------------
grant select on organisation, supplier, person, party to fablink_app;
grant select (person_id, organisation_id, email) on credential to fablink_app;
grant insert on person, credential to fablink_app;
grant update (name, roles, left_at) on person to fablink_app;
create policy see on organisation for select to fablink_app using (id in (select known_organisations()));
create policy see on supplier for select to fablink_app
    using (owner_id = (select actor_organisation()) or organisation_id = (select actor_organisation()));
create policy see on person for select to fablink_app using (organisation_id in (select known_organisations()));
create policy add on person for insert to fablink_app with check (organisation_id = (select actor_organisation()));
create policy change on person for update to fablink_app
    using (organisation_id = (select actor_organisation())) with check (organisation_id = (select actor_organisation()));
create policy see on credential for select to fablink_app using (organisation_id = (select actor_organisation()));
create policy add on credential for insert to fablink_app
    with check (organisation_id = (select actor_organisation())
                and exists (select 1 from person p where p.id = person_id and p.organisation_id = credential.organisation_id));
create policy see on party for select to fablink_app using (organisation_id = (select actor_organisation()));

-- A build shop takes on a new outside shop together with its first person. From then on the shop looks after its own people.
create function found_supplier(p_organisation uuid, p_name text, p_kind text, p_person uuid, p_person_name text, p_email text, p_stamp text, p_at timestamptz)
    returns void language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if not exists (select 1 from organisation where id = actor_organisation() and kind = 'build shop') then
        raise exception 'only a build shop takes on outside shops' using errcode = '42501';
    end if;
    if p_kind not in ('fabricator', 'coater') then
        raise exception 'an outside shop is a fabricator or a coater' using errcode = '22023';
    end if;
    insert into organisation (id, name, kind, created_at) values (p_organisation, p_name, p_kind, p_at);
    insert into supplier (owner_id, organisation_id) values (actor_organisation(), p_organisation);
    insert into person (id, organisation_id, name, roles, created_at) values (p_person, p_organisation, p_person_name, array[p_kind], p_at);
    insert into credential (person_id, organisation_id, email, security_stamp) values (p_person, p_organisation, lower(p_email), p_stamp);
end $$;

-- The next running number of an organisation that the actor deals with.
create function next_number(p_owner uuid, p_name text) returns integer language plpgsql security definer set search_path = public, pg_temp as $$
declare n integer;
begin
    if p_owner not in (select known_organisations()) then
        raise exception 'not a number of yours' using errcode = '42501';
    end if;
    insert into counter (owner_id, name, value) values (p_owner, p_name, 1)
    on conflict (owner_id, name) do update set value = counter.value + 1 returning value into n;
    return n;
end $$;
grant execute on function found_supplier(uuid, text, text, uuid, text, text, text, timestamptz), next_number(uuid, text) to fablink_app;

-- drawings -------------------------------------------------------------------------------------------------------------
grant select, insert, update on build, part, drawing to fablink_app;
grant select, insert, update, delete on revision, revision_file, characteristic to fablink_app;
create policy own on build to fablink_app using (owner_id = (select actor_organisation())) with check (owner_id = (select actor_organisation()));
do $$ declare t text; begin
    foreach t in array array['part', 'drawing', 'revision'] loop
        execute format('create policy own on %I to fablink_app using (owner_id = (select actor_organisation())) with check (owner_id = (select actor_organisation()))', t);
        execute format('create policy shared on %I for select to fablink_app using (id in (select my_subjects()))', t);
    end loop;
end $$;
create policy own on revision_file to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation()) and exists (select 1 from revision r where r.id = revision_id and r.owner_id = (select actor_organisation())));
create policy shared on revision_file for select to fablink_app
    using (revision_id in (select my_subjects())
           and (purpose = 'mask map' or revision_id in (select subject_id from party where organisation_id = (select actor_organisation()) and relation = 'shop')));
create policy own on characteristic to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation()) and exists (select 1 from revision r where r.id = revision_id and r.owner_id = (select actor_organisation())));
create policy shared on characteristic for select to fablink_app
    using (revision_id in (select my_subjects())
           and ('after coat' = any (stages) or revision_id in (select subject_id from party where organisation_id = (select actor_organisation()) and relation = 'shop')));

-- work orders ----------------------------------------------------------------------------------------------------------
grant select, insert, update on work_order to fablink_app;
grant select, insert, update, delete on work_order_line, route_step to fablink_app;
grant select, insert on piece, promise, packing_slip, packing_slip_piece, attachment to fablink_app;
grant select, insert, update on piece_step, question to fablink_app;

create function owner_takes_part() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    insert into party (organisation_id, relation, subject_id, work_order_id) values (new.owner_id, 'owner', new.id, new.id);
    return null;
end $$;
create trigger owner_takes_part after insert on work_order for each row execute function owner_takes_part();

-- Issuing opens a work order to the shop and to whoever has a step in it.
create function share_work_order(p_work_order uuid) returns void language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if not exists (select 1 from work_order where id = p_work_order and owner_id = actor_organisation() and issued_at is not null) then
        raise exception 'not an issued work order of yours' using errcode = '42501';
    end if;
    insert into party (organisation_id, relation, subject_id, work_order_id)
    select shop_id, 'shop', id, id from work_order where id = p_work_order
    union
    select w.shop_id, 'shop', s.id, w.id
    from work_order w join work_order_line l on l.work_order_id = w.id join revision r on r.id = l.revision_id,
         lateral (values (r.id), (r.part_id), (r.drawing_id)) s (id)
    where w.id = p_work_order
    union
    select t.organisation_id, 'process', s.id, w.id
    from work_order w join work_order_line l on l.work_order_id = w.id join revision r on r.id = l.revision_id
         join route_step t on t.line_id = l.id and t.organisation_id not in (w.owner_id, w.shop_id),
         lateral (values (l.id), (r.id), (r.part_id)) s (id)
    where w.id = p_work_order
    on conflict do nothing;
end $$;
grant execute on function share_work_order(uuid) to fablink_app;

create policy see on work_order for select to fablink_app using (id in (select my_orders()) or owner_id = (select actor_organisation()));
create policy add on work_order for insert to fablink_app
    with check (owner_id = (select actor_organisation())
                and shop_id in (select organisation_id from supplier where owner_id = (select actor_organisation())));
create policy change on work_order for update to fablink_app using (id in (select my_orders())) with check (id in (select my_orders()));
create policy see on work_order_line for select to fablink_app using (work_order_id in (select my_orders()));
create policy write on work_order_line to fablink_app
    using (work_order_id in (select my_own_orders())) with check (work_order_id in (select my_own_orders())
        and exists (select 1 from revision r where r.id = revision_id and r.owner_id = (select actor_organisation()))
        and exists (select 1 from build b where b.id = build_id));
create policy see on route_step for select to fablink_app
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()));
create policy write on route_step to fablink_app
    using (work_order_id in (select my_own_orders()))
    with check (work_order_id in (select my_own_orders()) and organisation_id in (select known_organisations()));
create policy see on piece for select to fablink_app
    using (work_order_id in (select my_orders()) or line_id in (select my_process_subjects()));
create policy add on piece for insert to fablink_app
    with check (work_order_id in (select my_own_orders()) and owner_id = (select actor_organisation()));
create policy see on piece_step for select to fablink_app
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()));
create policy add on piece_step for insert to fablink_app
    with check (work_order_id in (select my_own_orders()) and owner_id = (select actor_organisation()));
create policy change on piece_step for update to fablink_app
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()))
    with check (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()));
do $$ declare t text; begin
    foreach t in array array['promise', 'question', 'packing_slip', 'packing_slip_piece'] loop
        execute format('create policy ours on %I to fablink_app using (work_order_id in (select my_orders())) with check (work_order_id in (select my_orders()))', t);
    end loop;
end $$;
create policy see on attachment for select to fablink_app
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()));
create policy add on attachment for insert to fablink_app
    with check (organisation_id = (select actor_organisation())
                and (work_order_id in (select my_orders()) or piece_id in (select id from piece where line_id in (select my_process_subjects()))));

-- Only the organisation that a step was given to moves it; the build shop may do so on its behalf.
create function step_is_ours() returns trigger language plpgsql as $$
begin
    if (new.started_at is distinct from old.started_at or new.finished_at is distinct from old.finished_at)
       and actor_organisation() is not null and actor_organisation() not in (new.organisation_id, new.owner_id) then
        raise exception 'this step was not given to you' using errcode = '42501';
    end if;
    if (new.piece_id, new.route_step_id, new.organisation_id, new.owner_id, new.work_order_id, new.line_id, new.ordinal)
       is distinct from (old.piece_id, old.route_step_id, old.organisation_id, old.owner_id, old.work_order_id, old.line_id, old.ordinal) then
        raise exception 'a step stays where it is' using errcode = '42501';
    end if;
    return new;
end $$;
create trigger step_is_ours before update on piece_step for each row execute function step_is_ours();

-- reports --------------------------------------------------------------------------------------------------------------
grant select, insert, update on instrument to fablink_app;
grant select, insert, delete on upload to fablink_app;
grant select, insert, update, delete on draft to fablink_app;
grant select, insert on report, measured_value, concession, concession_piece to fablink_app;
grant select, insert, update on nonconformance to fablink_app;
create policy own on instrument to fablink_app
    using (organisation_id = (select actor_organisation())) with check (organisation_id = (select actor_organisation()));
create policy own on upload to fablink_app
    using (organisation_id = (select actor_organisation()))
    with check (organisation_id = (select actor_organisation())
                and (work_order_id in (select my_orders()) or line_id in (select my_process_subjects())));
create policy own on draft to fablink_app
    using (person_id = (select actor_person()))
    with check (person_id = (select actor_person()) and piece_id in (select id from piece));
create policy see on report for select to fablink_app
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()));
create policy add on report for insert to fablink_app
    with check (work_order_id in (select my_orders())
                or (organisation_id = (select actor_organisation())
                    and piece_id in (select id from piece where line_id in (select my_process_subjects()))));
create policy see on measured_value for select to fablink_app
    using (work_order_id in (select my_orders())
           or report_id in (select id from report where organisation_id = (select actor_organisation())));
create policy add on measured_value for insert to fablink_app
    with check (work_order_id in (select my_orders())
                or report_id in (select id from report where organisation_id = (select actor_organisation())));
create policy see on nonconformance for select to fablink_app
    using (work_order_id in (select my_orders())
           or report_id in (select id from report where organisation_id = (select actor_organisation())));
create policy add on nonconformance for insert to fablink_app
    with check (work_order_id in (select my_orders())
                or report_id in (select id from report where organisation_id = (select actor_organisation())));
create policy change on nonconformance for update to fablink_app
    using (work_order_id in (select my_orders()) or report_id in (select id from report where organisation_id = (select actor_organisation())))
    with check (work_order_id in (select my_orders()) or report_id in (select id from report where organisation_id = (select actor_organisation())));
create policy see on concession for select to fablink_app using (work_order_id in (select my_orders()));
create policy add on concession for insert to fablink_app
    with check (work_order_id in (select my_own_orders()) and owner_id = (select actor_organisation()));
create policy see on concession_piece for select to fablink_app using (work_order_id in (select my_orders()));
create policy add on concession_piece for insert to fablink_app with check (work_order_id in (select my_own_orders()));

-- notices --------------------------------------------------------------------------------------------------------------
grant select on notice, outbox to fablink_app;
grant update (read_at) on notice to fablink_app;
create policy see on notice for select to fablink_app
    using (organisation_id = (select actor_organisation()) or work_order_id in (select my_own_orders()));
create policy mark on notice for update to fablink_app
    using (person_id = (select actor_person())) with check (person_id = (select actor_person()));
create policy see on outbox for select to fablink_app using (kind = 'mail a notice' and subject_id in (select id from notice));

-- sign-in: before there is an actor -------------------------------------------------------------------------------------
grant select on organisation, person to fablink_signin;
grant select, insert, update on credential to fablink_signin;
grant select, insert, update, delete on sign_in_link to fablink_signin;
grant select, insert on data_protection_key to fablink_signin;
grant insert on outbox to fablink_signin;
do $$ declare t text; begin
    foreach t in array array['organisation', 'person', 'credential', 'sign_in_link', 'data_protection_key', 'outbox'] loop
        execute format('create policy signin on %I to fablink_signin using (true) with check (true)', t);
    end loop;
end $$;

-- jobs: sweeps and deliveries, without an actor -----------------------------------------------------------------------------
grant select on organisation, person, party, work_order, work_order_line, route_step, piece, part, promise, question, build, notice, report, nonconformance to fablink_jobs;
grant select (person_id, organisation_id, email) on credential to fablink_jobs;
grant select, insert, delete on sign_in_link to fablink_jobs;
grant select, update on outbox, piece_step to fablink_jobs;
do $$ declare t text; begin
    foreach t in array array['organisation', 'person', 'party', 'work_order', 'work_order_line', 'route_step', 'piece', 'part', 'promise', 'question',
                             'build', 'notice', 'report', 'nonconformance', 'credential', 'sign_in_link', 'outbox', 'piece_step'] loop
        execute format('create policy jobs on %I to fablink_jobs using (true) with check (true)', t);
    end loop;
end $$;
