-- What was issued and what was done stays; a shop with one step of a route learns just enough to know when its turn comes.

-- The route that a shop accepted is the route it is held to: a gate cannot be taken out behind its back.
create function issued_is_final() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare o uuid;
begin
    if tg_op = 'DELETE' then o := old.work_order_id; else o := new.work_order_id; end if;
    if tg_op = 'UPDATE' and old.work_order_id <> new.work_order_id then
        raise exception 'a line stays with its work order' using errcode = 'FL008';
    end if;
    if exists (select 1 from work_order where id = o and issued_at is not null) then
        raise exception 'an issued work order keeps its lines and its route' using errcode = 'FL008';
    end if;
    if tg_op = 'DELETE' then return old; end if;
    return new;
end $$;
create trigger issued_is_final before insert or update or delete on work_order_line for each row execute function issued_is_final();
create trigger issued_is_final before insert or update or delete on route_step for each row execute function issued_is_final();

-- A start, a finish, an invitation and the way a gate was opened are said once; a gate may be closed again, never re-told.
create function done_stays_done() returns trigger language plpgsql as $$
begin
    if old.started_at is not null and (new.started_at, new.started_by) is distinct from (old.started_at, old.started_by)
       or old.finished_at is not null and (new.finished_at, new.finished_by) is distinct from (old.finished_at, old.finished_by)
       or old.asked_at is not null and (new.asked_at, new.asked_by) is distinct from (old.asked_at, old.asked_by)
       or old.opened_at is not null and new.opened_at is not null
          and (new.opened_at, new.opened_by, new.opened_how, new.opened_reason) is distinct from (old.opened_at, old.opened_by, old.opened_how, old.opened_reason) then
        raise exception 'what was said of step % stays said', new.ordinal using errcode = 'FL008';
    end if;
    if new.opened_how = 'notice time over' and old.opened_at is null and session_user = 'fablink_app' then
        raise exception 'the notice time is watched by the sweep, not by a person' using errcode = 'FL006';
    end if;
    return new;
end $$;
create trigger done_stays_done before update on piece_step for each row execute function done_stays_done();

-- Nothing leaves the shop held, half made or with a nonconformance open.
create function ships_when_done() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare before record; held text;
begin
    perform 1 from piece where id = new.piece_id for update;
    for before in
        select s.ordinal, s.finished_at, s.opened_at, r.kind, r.gate
        from piece_step s join route_step r on r.id = s.route_step_id join work_order w on w.id = s.work_order_id
        where s.piece_id = new.piece_id and s.organisation_id = w.shop_id and r.kind not in ('ship', 'receive', 'install') order by s.ordinal
    loop
        if before.finished_at is null then
            raise exception 'step % (%) is not finished', before.ordinal, before.kind using errcode = 'FL002';
        end if;
        if before.gate = 'hold' and before.opened_at is null then
            raise exception 'held at step % (%)', before.ordinal, before.kind using errcode = 'FL003';
        end if;
        if before.gate = 'witness' and before.opened_at is null then
            raise exception 'a witness is invited at step % (%)', before.ordinal, before.kind using errcode = 'FL004';
        end if;
    end loop;
    select number into held from nonconformance where piece_id = new.piece_id and closed_at is null limit 1;
    if held is not null then
        raise exception 'nonconformance % is open', held using errcode = 'FL005';
    end if;
    return new;
end $$;
create trigger ships_when_done before insert on packing_slip_piece for each row execute function ships_when_done();

-- The steps given to the actor's organisation that are still to be done: what they wait for, and by when they are wanted
-- (the need date less the planned days of what follows), without the order they belong to.
create function steps_given_to_us() returns table (
        id uuid, waits_for_kind text, waits_because text, nonconformance text, wanted_by date)
    language sql stable security definer set search_path = public, pg_temp as $$
        select s.id, b.kind, b.because, n.number,
               l.need_date - coalesce((select sum(r.planned_days) from route_step r where r.line_id = s.line_id and r.ordinal > s.ordinal), 0)::integer
        from piece_step s
        join route_step own on own.id = s.route_step_id
        join work_order_line l on l.id = s.line_id
        join work_order w on w.id = s.work_order_id
        left join lateral (
            select r.kind, case when x.finished_at is null then 'not finished' when r.gate = 'hold' then 'held' else 'witness invited' end as because
            from piece_step x join route_step r on r.id = x.route_step_id
            where x.piece_id = s.piece_id and x.ordinal < s.ordinal
              and (x.finished_at is null or (r.gate <> 'none' and x.opened_at is null))
            order by x.ordinal limit 1) b on true
        left join lateral (select c.number from nonconformance c where c.piece_id = s.piece_id and c.closed_at is null order by c.opened_at limit 1) n on true
        where s.organisation_id = actor_organisation() and w.declined_at is null and w.closed_at is null
          and (s.finished_at is null or (own.gate <> 'none' and s.opened_at is null))
    $$;

-- The step after one that the actor may move, so that whoever has it can be told that its turn has come.
create function step_after(p_step uuid) returns table (kind text, organisation_id uuid)
    language sql stable security definer set search_path = public, pg_temp as $$
        select r.kind, n.organisation_id
        from piece_step s join piece_step n on n.piece_id = s.piece_id and n.ordinal > s.ordinal join route_step r on r.id = n.route_step_id
        where s.id = p_step and actor_organisation() in (s.organisation_id, s.owner_id)
        order by n.ordinal limit 1
    $$;

revoke execute on function issued_is_final(), done_stays_done(), ships_when_done(), steps_given_to_us(), step_after(uuid) from public;
grant execute on function steps_given_to_us(), step_after(uuid) to fablink_app;
