-- Whoever has a step at a stage measures there; where nobody has one, the shop of the order does. The build shop may everywhere, also for others.
create function measured_where_given() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare given uuid[]; p record;
begin
    if session_user <> 'fablink_app' then return new; end if;
    select owner_id, serial into p from piece where id = new.piece_id;
    if p.owner_id = actor_organisation() then return new; end if;
    select array_agg(s.organisation_id) into given from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = new.piece_id and r.stage = new.stage;
    if given is null then
        given := array(select w.shop_id from work_order w where w.id = new.work_order_id and w.shop_id is not null);
    end if;
    if actor_organisation() <> all (given) then
        raise exception '% is measured at stage % by whoever has a step there', p.serial, new.stage using errcode = 'FL017';
    end if;
    return new;
end $$;
create trigger measured_where_given before insert on report for each row execute function measured_where_given();
revoke execute on function measured_where_given() from public;

-- What is wrong at the stage of a step of the actor's own: what failed there, else that it is not proven. Null when nothing is.
create function wrong_at_step(p_step uuid) returns text language sql stable security definer set search_path = public, pg_temp as $$
    select coalesce(
        (select 'does not conform: ' || c.number from nonconformance c where c.piece_id = s.piece_id and c.stage = r.stage and c.closed_at is null order by c.opened_at limit 1),
        case when settled_verdict(s.piece_id, r.stage) = 'not proven' then 'not proven' end)
    from piece_step s join route_step r on r.id = s.route_step_id
    where s.id = p_step and r.stage is not null and actor_organisation() in (s.organisation_id, s.owner_id)
$$;
revoke execute on function wrong_at_step(uuid) from public;
grant execute on function wrong_at_step(uuid) to fablink_app;

-- As in 0008; what was found at a stage of others keeps a step from starting, and holds none that has begun.
create or replace function steps_given_to_us() returns table (
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
        left join lateral (
            select c.number from nonconformance c
            where c.piece_id = s.piece_id and c.closed_at is null and (s.started_at is null or c.stage = own.stage)
            order by c.opened_at limit 1) n on true
        where s.organisation_id = actor_organisation() and w.declined_at is null and w.closed_at is null
          and (s.finished_at is null or (own.gate <> 'none' and s.opened_at is null))
    $$;
