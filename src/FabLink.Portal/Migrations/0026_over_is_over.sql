-- What ends a piece ends it for everybody who has a part in its order, and by every path: scrapped, made anew as another piece, or its order cancelled.
drop function given_up(uuid);

-- What went through before its order was cancelled is used.
create function is_through(p_piece uuid) returns boolean language sql stable as $$
    select not exists (select 1 from piece_step s join route_step r on r.id = s.route_step_id
                       where s.piece_id = p_piece and (s.finished_at is null or r.gate <> 'none' and s.opened_at is null))
$$;

-- What was decided of a nonconformance; nothing, when what was reworked or repaired failed again since: then it is to be decided anew.
create function decision_of(n nonconformance) returns text language sql stable as $$
    select case when n.disposition in ('rework', 'repair') and exists (
        select 1 from report r where r.piece_id = n.piece_id and r.stage = n.stage and r.verdict = 'does not conform' and r.submitted_at > n.disposed_at)
        then null else n.disposition end
$$;

-- The nonconformance that stops a piece and what was decided of it, and whether the piece is over. The coater learns this much of what others found.
create function piece_stand(p_piece uuid) returns table (nonconformance text, decided text, failed_stage text, ended text, why text)
    language sql stable security definer set search_path = public, pg_temp as $$
        select n.number, n.disposition, n.stage,
               case when n.disposition in ('scrap', 'remake') then n.disposition when w.close_reason is not null and not is_through(p.id) then 'cancelled' end,
               w.close_reason
        from piece p join work_order w on w.id = p.work_order_id
             left join lateral (
                 select c.number, decision_of(c) as disposition, c.stage from nonconformance c where c.piece_id = p.id and c.closed_at is null
                 order by c.disposition in ('scrap', 'remake') desc nulls last, decision_of(c) is not null, c.opened_at limit 1) n on true
        where p.id = p_piece and (session_user <> 'fablink_app' or exists (
            select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()))
    $$;

create function over_is_over() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare how text; serial text;
begin
    if session_user <> 'fablink_app' then return new; end if;
    select s.ended, p.serial into how, serial from piece p, piece_stand(p.id) s where p.id = new.piece_id;
    if how is not null then
        raise exception '% is %', serial, case how when 'scrap' then 'scrapped' when 'remake' then 'made anew' else 'of a cancelled order' end using errcode = 'FL015';
    end if;
    return new;
end $$;
create trigger over_is_over before update of started_at, finished_at, asked_at, opened_at on piece_step for each row
    when (old.started_at is null and new.started_at is not null or old.finished_at is null and new.finished_at is not null
          or old.asked_at is null and new.asked_at is not null or old.opened_at is null and new.opened_at is not null)
    execute function over_is_over();
create trigger over_is_over before insert on report for each row execute function over_is_over();

-- A closed order takes no report; what is measured of it later belongs to another order or to the build.
create function closed_is_closed() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and exists (select 1 from piece p join work_order w on w.id = p.work_order_id where p.id = new.piece_id and w.closed_at is not null) then
        raise exception 'the order of % is closed', (select serial from piece where id = new.piece_id) using errcode = 'FL015';
    end if;
    return new;
end $$;
create trigger closed_is_closed before insert on report for each row execute function closed_is_closed();

-- A piece of a cancelled order that never was made leaves its place to the one ordered anew.
create or replace function pieces_in_place(p_build uuid)
    returns table (piece_id uuid, serial text, part_id uuid, revision_id uuid, line_id uuid, work_order_id uuid, place integer)
    language sql stable as $$
    select p.id, p.serial, p.part_id, p.revision_id, p.line_id, p.work_order_id,
           (row_number() over (partition by p.part_id order by p.serial))::integer
    from piece p join work_order_line l on l.id = p.line_id join work_order w on w.id = l.work_order_id
    where l.build_id = p_build and (w.close_reason is null or is_through(p.id))
      and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('remake', 'scrap'))
$$;

revoke execute on function decision_of(nonconformance), is_through(uuid), piece_stand(uuid), over_is_over(), closed_is_closed() from public;
grant execute on function decision_of(nonconformance), is_through(uuid), piece_stand(uuid) to fablink_app, fablink_jobs;
