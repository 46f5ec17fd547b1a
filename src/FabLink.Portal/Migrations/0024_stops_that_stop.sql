-- What failed heals by values that conform. A value that failed and now lies too near its limit to tell proves nothing, and a piece that is scrapped or
-- made anew is not brought back by any report.
create function fails_still(p_piece uuid, p_stage text) returns boolean language sql stable security definer set search_path = public, pg_temp as $$
    with value as (
        select v.characteristic_id, v.instance, v.verdict, r.submitted_at, r.id
        from report r join measured_value v on v.report_id = r.id where r.piece_id = p_piece and r.stage = p_stage
    ), standing as (
        select distinct on (characteristic_id, instance) characteristic_id, instance, verdict from value order by characteristic_id, instance, submitted_at desc, id desc
    )
    select (session_user <> 'fablink_app' or exists (
            select 1 from piece p join party t on t.work_order_id = p.work_order_id where p.id = p_piece and t.organisation_id = actor_organisation()))
      and exists (
        select 1 from standing s
        where s.verdict = 'does not conform'
           or s.verdict = 'not proven' and exists (
               select 1 from value f where (f.characteristic_id, f.instance) = (s.characteristic_id, s.instance) and f.verdict = 'does not conform'))
$$;

create or replace function heals_when_nothing_fails() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and old.closed_at is null and new.closed_at is not null and new.closed_by_report_id is not null
       and (old.disposition in ('scrap', 'remake') or fails_still(new.piece_id, new.stage)) then
        raise exception 'nonconformance % stands: a newer value fails, or the piece is given up', new.number using errcode = 'FL009';
    end if;
    return new;
end $$;

-- A report opens the hold after a step that has begun: values of a part before it was tacked say nothing of the tacked part. A step that only looks at the
-- piece (inspect, receive) is measured before anybody presses its button; there the steps before it are done.
create function report_is_of_its_step() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if not step_is_reached(new.id) then
        raise exception 'step % has not begun', new.ordinal using errcode = 'FL006';
    end if;
    return new;
end $$;

create function step_is_reached(p_step uuid) returns boolean language sql stable security definer set search_path = public, pg_temp as $$
    select s.started_at is not null
        or t.kind in ('inspect', 'receive') and not exists (
            select 1 from piece_step e join route_step r on r.id = e.route_step_id
            where e.piece_id = s.piece_id and e.ordinal < s.ordinal and (e.finished_at is null or r.gate <> 'none' and e.opened_at is null))
    from piece_step s join route_step t on t.id = s.route_step_id
    where s.id = p_step and (session_user <> 'fablink_app' or exists (
        select 1 from party y where y.work_order_id = s.work_order_id and y.organisation_id = actor_organisation()))
$$;

-- scrap or remake, where that was decided: nothing more is done with the piece. For whoever has a part in its order.
create function given_up(p_piece uuid) returns text language sql stable security definer set search_path = public, pg_temp as $$
    select n.disposition from nonconformance n join party t on t.work_order_id = n.work_order_id and t.organisation_id = actor_organisation()
    where n.piece_id = p_piece and n.disposition in ('scrap', 'remake') limit 1
$$;
create trigger report_is_of_its_step before update of opened_at on piece_step for each row
    when (new.opened_how = 'report' and old.opened_at is null and new.opened_at is not null) execute function report_is_of_its_step();

-- An uncertainty of nothing would switch the guard band off.
alter table measured_value add constraint uncertainty_above_zero check (expanded_uncertainty > 0) not valid;

revoke execute on function fails_still(uuid, text), step_is_reached(uuid), given_up(uuid), report_is_of_its_step(), heals_when_nothing_fails() from public;
grant execute on function fails_still(uuid, text), step_is_reached(uuid), given_up(uuid) to fablink_app;
