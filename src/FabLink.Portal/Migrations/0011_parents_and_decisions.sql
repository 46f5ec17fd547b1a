-- Foreign keys see past policies: whoever writes a row must own what it hangs on, or the row would tell or take what is somebody else's.

create policy parent on drawing as restrictive to fablink_app using (true)
    with check (exists (select 1 from part p where p.id = part_id and p.owner_id = drawing.owner_id));
create policy parent on revision as restrictive to fablink_app using (true)
    with check (exists (select 1 from drawing d where d.id = drawing_id and d.owner_id = revision.owner_id and d.part_id = revision.part_id));
create policy parent on piece as restrictive for insert to fablink_app
    with check (exists (select 1 from work_order_line l join revision r on r.id = l.revision_id
                        where l.id = line_id and l.revision_id = piece.revision_id and r.part_id = piece.part_id));
create policy parent on piece_step as restrictive for insert to fablink_app
    with check (exists (select 1 from route_step r where r.id = route_step_id and r.line_id = piece_step.line_id and r.ordinal = piece_step.ordinal
                                                     and r.organisation_id = piece_step.organisation_id)
                and exists (select 1 from piece p where p.id = piece_id and p.line_id = piece_step.line_id));
create policy parent on report as restrictive for insert to fablink_app
    with check (exists (select 1 from piece p where p.id = piece_id and p.revision_id = report.revision_id and p.owner_id = report.owner_id));
create policy parent on nonconformance as restrictive for insert to fablink_app
    with check (exists (select 1 from report r where r.id = report_id and r.piece_id = nonconformance.piece_id and r.stage = nonconformance.stage
                                                 and r.owner_id = nonconformance.owner_id));
create policy parent on upload as restrictive for insert to fablink_app
    with check (exists (select 1 from piece p where p.line_id = upload.line_id and p.work_order_id = upload.work_order_id));
create policy parent on question as restrictive for insert to fablink_app
    with check ((revision_id is null or exists (select 1 from work_order_line l where l.work_order_id = question.work_order_id and l.revision_id = question.revision_id))
                and (characteristic_id is null or exists (
                        select 1 from characteristic c join work_order_line l on l.revision_id = c.revision_id
                        where c.id = characteristic_id and l.work_order_id = question.work_order_id)));
create policy parent on attachment as restrictive for insert to fablink_app
    with check (piece_id is null or exists (select 1 from piece p where p.id = piece_id and p.work_order_id = attachment.work_order_id));

-- The shop answers an order; what the order says stays the build shop's.
create function order_is_the_owners() returns trigger language plpgsql as $$
declare answer text[] := array['accepted_at', 'accepted_by', 'accepted_for', 'declined_at', 'declined_by', 'decline_reason', 'row_version'];
begin
    if new.owner_id <> old.owner_id or (old.issued_at is not null and new.shop_id <> old.shop_id) then
        raise exception 'a work order stays with its parties' using errcode = '42501';
    end if;
    if session_user = 'fablink_app' and actor_organisation() is distinct from old.owner_id
       and to_jsonb(new) - answer <> to_jsonb(old) - answer then
        raise exception 'only the build shop changes its work order' using errcode = '42501';
    end if;
    return new;
end $$;
create trigger order_is_the_owners before update on work_order for each row execute function order_is_the_owners();

-- A nonconformance ends by a later report in which nothing fails, or by the build shop; never by the shop's word.
create function decided_by_the_owner() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare healed boolean;
begin
    if session_user <> 'fablink_app' then
        return new;
    end if;
    if (new.owner_id, new.work_order_id, new.piece_id, new.report_id, new.stage, new.number, new.opened_at, new.opened_by)
       is distinct from (old.owner_id, old.work_order_id, old.piece_id, old.report_id, old.stage, old.number, old.opened_at, old.opened_by)
       or (old.closed_at is not null and new.closed_at is distinct from old.closed_at) then
        raise exception 'what was found and what was closed stays so' using errcode = 'FL009';
    end if;
    healed := old.closed_at is null and new.closed_at is not null and exists (
        select 1 from report r where r.id = new.closed_by_report_id and r.id <> new.report_id and r.piece_id = new.piece_id and r.stage = new.stage
                                 and r.failed_count = 0 and r.verdict <> 'does not conform');
    if healed and new.disposition = coalesce(old.disposition, 'rework') then
        return new;
    end if;
    if actor_organisation() is distinct from new.owner_id then
        raise exception 'only the build shop decides nonconformance %', new.number using errcode = 'FL009';
    end if;
    if new.closed_at is not null and old.closed_at is null and not healed and new.disposition is null then
        raise exception 'nonconformance % is closed by a report or by a disposition', new.number using errcode = 'FL009';
    end if;
    return new;
end $$;
create trigger decided_by_the_owner before update on nonconformance for each row execute function decided_by_the_owner();

-- Only the sweeps speak without an actor.
alter function tell(text, uuid, text[], uuid, uuid, text, text, text, text, timestamptz) rename to tell_people;
create function tell(p_kind text, p_organisation uuid, p_roles text[], p_work_order uuid, p_piece uuid,
                     p_subject text, p_body text, p_path text, p_said_once text, p_at timestamptz)
    returns integer language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and actor_organisation() is null then
        raise exception 'nobody is speaking' using errcode = '42501';
    end if;
    return tell_people(p_kind, p_organisation, p_roles, p_work_order, p_piece, p_subject, p_body, p_path, p_said_once, p_at);
end $$;

-- "not in" an empty-handed set is neither true nor false: without an actor there is no number of yours.
create or replace function next_number(p_owner uuid, p_name text) returns integer language plpgsql security definer set search_path = public, pg_temp as $$
declare n integer;
begin
    if actor_organisation() is null or p_owner not in (select known_organisations()) then
        raise exception 'not a number of yours' using errcode = '42501';
    end if;
    insert into counter (owner_id, name, value) values (p_owner, p_name, 1)
    on conflict (owner_id, name) do update set value = counter.value + 1 returning value into n;
    return n;
end $$;

-- Functions that run as the owner are open to who needs them, not to every role.
do $$ declare f regprocedure; begin
    for f in select p.oid::regprocedure from pg_proc p where p.pronamespace = 'public'::regnamespace and p.prosecdef loop
        execute format('revoke execute on function %s from public', f);
    end loop;
end $$;
revoke execute on function tell_people(text, uuid, text[], uuid, uuid, text, text, text, text, timestamptz) from fablink_app, fablink_jobs;
grant execute on function tell(text, uuid, text[], uuid, uuid, text, text, text, text, timestamptz) to fablink_app, fablink_jobs;
grant execute on function known_organisations(), found_supplier(uuid, text, text, uuid, text, text, text, timestamptz), next_number(uuid, text), share_work_order(uuid),
                          steps_given_to_us(), step_after(uuid), newer_revision(uuid) to fablink_app;
