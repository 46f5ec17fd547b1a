-- Whose turn has come is said once, whatever opened it: a step that is finished, a gate that opens later, a nonconformance that is healed, a joint that bolts up.
alter table piece_step add column ready_said_at timestamptz;
alter table piece_step disable trigger user;
update piece_step s set ready_said_at = b.finished_at
from piece_step b join route_step r on r.id = b.route_step_id
where b.piece_id = s.piece_id and b.ordinal = s.ordinal - 1 and b.finished_at is not null and (r.gate = 'none' or b.opened_at is not null)
  and b.organisation_id <> s.organisation_id;
alter table piece_step enable trigger user;

-- The steps of these pieces that may start now and that another organisation has than the step before; noted, so that each is answered once.
create function turns_come(p_pieces uuid[], p_at timestamptz)
    returns table (piece_id uuid, serial text, owner_id uuid, work_order_id uuid, kind text, organisation_id uuid)
    language plpgsql security definer set search_path = public, pg_temp as $$
    #variable_conflict use_column
    begin
        return query
        update piece_step s set ready_said_at = p_at
        from piece p join work_order w on w.id = p.work_order_id, route_step r, piece_step b
        where p.id = any(p_pieces) and s.piece_id = p.id and r.id = s.route_step_id
          and b.piece_id = s.piece_id and b.ordinal = (select max(x.ordinal) from piece_step x where x.piece_id = s.piece_id and x.ordinal < s.ordinal)
          and s.started_at is null and s.ready_said_at is null and b.finished_at is not null and b.organisation_id <> s.organisation_id
          and w.accepted_at is not null and w.declined_at is null and w.closed_at is null
          and not exists (select 1 from piece_step x join route_step t on t.id = x.route_step_id
                          where x.piece_id = s.piece_id and x.ordinal < s.ordinal and (x.finished_at is null or t.gate <> 'none' and x.opened_at is null))
          and not exists (select 1 from nonconformance n where n.piece_id = p.id and (n.closed_at is null or n.disposition in ('scrap', 'remake')))
          and not exists (select 1 from joint_hold h join joint j on j.id = h.joint_id where h.piece_id = p.id and h.lifted_at is null and j.removed_at is null)
          and (session_user <> 'fablink_app' or exists (
              select 1 from party y where y.work_order_id = p.work_order_id and y.organisation_id = actor_organisation()))
        returning p.id, p.serial, p.owner_id, p.work_order_id, r.kind, s.organisation_id;
    end $$;
drop function step_after(uuid);

revoke execute on function turns_come(uuid[], timestamptz) from public;
grant execute on function turns_come(uuid[], timestamptz) to fablink_app, fablink_jobs;

-- When a piece was with another organisation for good: it has begun a step and the shop has none after it. An inspection may be at the shop's place.
-- Null while it is the shop's to ship. For whoever sees the whole route.
create function left_shop_at(p_piece uuid) returns timestamptz language sql stable as $$
    select min(s.started_at)
    from piece_step s join route_step r on r.id = s.route_step_id join work_order w on w.id = s.work_order_id
    where s.piece_id = p_piece and s.organisation_id <> w.shop_id and r.kind <> 'inspect'
      and s.ordinal > coalesce((select max(x.ordinal) from piece_step x where x.piece_id = p_piece and x.organisation_id = w.shop_id), 0)
$$;
revoke execute on function left_shop_at(uuid) from public;
grant execute on function left_shop_at(uuid) to fablink_app;

create function is_there_to_ship() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if left_shop_at(new.piece_id) is not null then
        raise exception '% is not with the shop any more', (select serial from piece where id = new.piece_id) using errcode = 'FL016';
    end if;
    return new;
end $$;
create trigger is_there_to_ship before insert on packing_slip_piece for each row execute function is_there_to_ship();
revoke execute on function is_there_to_ship() from public;

-- To whom a packing slip is addressed: who does the next step of all its pieces; null: the build shop.
alter table packing_slip add column to_id uuid references organisation;
alter table packing_slip disable trigger user;
update packing_slip s set to_id = (
    select case when count(distinct t.id) = 1 and count(t.id) = count(*) then min(t.id::text)::uuid end
    from packing_slip_piece x join work_order w on w.id = x.work_order_id
    left join lateral (
        select n.organisation_id from piece_step n join route_step r on r.id = n.route_step_id
        where n.piece_id = x.piece_id and r.kind <> 'ship' and (n.finished_at is null or n.finished_at > s.shipped_at)
        order by n.ordinal limit 1) next on true
    left join organisation t on t.id = next.organisation_id and t.id not in (w.shop_id, w.owner_id)
    where x.packing_slip_id = s.id);
alter table packing_slip enable trigger user;
create index packing_slip_by_addressee on packing_slip (to_id);

-- Whoever it is addressed to sees it with the pieces of it that it knows, and of its order nothing else.
create policy addressee on packing_slip as restrictive for insert to fablink_app
    with check (to_id is null or exists (select 1 from route_step r where r.work_order_id = packing_slip.work_order_id and r.organisation_id = to_id));
create policy addressed on packing_slip for select to fablink_app using (to_id = (select actor_organisation()));
create policy addressed on packing_slip_piece for select to fablink_app
    using (packing_slip_id in (select id from packing_slip where to_id = (select actor_organisation())) and piece_id in (select id from piece));

-- Who sent what is addressed to us; the addressee knows neither the order nor its shop.
create function sender_of(p_slip uuid) returns table (shop text, name text, organisation text)
    language sql stable security definer set search_path = public, pg_temp as $$
        select shop.name, p.name, o.name
        from packing_slip s join work_order w on w.id = s.work_order_id join organisation shop on shop.id = w.shop_id
             join person p on p.id = s.shipped_by join organisation o on o.id = p.organisation_id
        where s.id = p_slip and s.to_id = actor_organisation()
    $$;

-- This step is the first elsewhere after the shop's, and no packing slip says that the piece was sent.
create function came_without_slip(p_step uuid) returns boolean language sql stable security definer set search_path = public, pg_temp as $$
    select exists (
        select 1
        from piece_step s join route_step r on r.id = s.route_step_id join work_order w on w.id = s.work_order_id
             join lateral (select b.organisation_id from piece_step b where b.piece_id = s.piece_id and b.ordinal < s.ordinal order by b.ordinal desc limit 1) b
                  on b.organisation_id = w.shop_id
        where s.id = p_step and s.organisation_id <> w.shop_id and r.kind <> 'inspect' and actor_organisation() in (s.organisation_id, s.owner_id)
          and not exists (select 1 from packing_slip_piece x where x.piece_id = s.piece_id))
$$;

revoke execute on function sender_of(uuid), came_without_slip(uuid) from public;
grant execute on function sender_of(uuid), came_without_slip(uuid) to fablink_app;

-- The piece is through, and somebody else's step after this one took it as it is: whoever has this step has nothing left to do for it.
create function taken_as_it_is(p_step uuid) returns boolean language sql stable security definer set search_path = public, pg_temp as $$
    select is_through(s.piece_id) and exists (
        select 1 from piece_step x where x.piece_id = s.piece_id and x.ordinal > s.ordinal and x.organisation_id <> s.organisation_id)
    from piece_step s
    where s.id = p_step and (session_user <> 'fablink_app' or actor_organisation() in (s.organisation_id, s.owner_id))
$$;
revoke execute on function taken_as_it_is(uuid) from public;
grant execute on function taken_as_it_is(uuid) to fablink_app;

-- As in 0023, without what was taken as it is.
create or replace function steps_to_measure() returns table (id uuid)
    language sql stable security definer set search_path = public, pg_temp as $$
        select s.id
        from piece_step s
        join route_step r on r.id = s.route_step_id
        join piece p on p.id = s.piece_id
        join work_order w on w.id = s.work_order_id
        where s.organisation_id = actor_organisation() and w.declined_at is null and w.closed_at is null
          and s.started_at is not null and s.opened_at is null and r.stage is not null and (r.gate <> 'hold' or s.finished_at is null)
          and exists (select 1 from characteristic c where c.revision_id = p.revision_id and r.stage = any (c.stages))
          and coalesce((select o.verdict from report o where o.piece_id = p.id and o.stage = r.stage order by o.submitted_at desc, o.id desc limit 1), '') <> 'conforms'
          and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
          and not taken_as_it_is(s.id)
    $$;
