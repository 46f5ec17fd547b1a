-- A concession covers what was found up to the day it was granted, and what was missing then: no later value, and that for as long as it is valid.
alter table concession add column stage text;
alter table concession disable trigger user;
update concession c set stage = coalesce(
    (select n.stage from nonconformance n where n.id = c.nonconformance_id),
    (select t.stage from concession_piece p join piece_step s on s.piece_id = p.piece_id join route_step t on t.id = s.route_step_id
     where p.concession_id = c.id and s.opened_how = 'concession' and s.opened_at = c.granted_at limit 1));
alter table concession enable trigger user;

create function conceded_at(p_piece uuid, p_stage text) returns timestamptz language sql stable security definer set search_path = public, pg_temp as $$
    select max(c.granted_at) from concession_piece x join concession c on c.id = x.concession_id
    where x.piece_id = p_piece and c.stage = p_stage and (c.valid_until is null or c.valid_until >= (now() at time zone 'UTC')::date - 1)
      and (session_user <> 'fablink_app' or exists (
          select 1 from piece p join party t on t.work_order_id = p.work_order_id where p.id = p_piece and t.organisation_id = actor_organisation()))
$$;

-- As in 0020, without what is conceded: values that came up to p_conceded, and once there is such a day what was never measured.
create function verdict_beside(p_piece uuid, p_stage text, p_conceded timestamptz) returns text language plpgsql stable security definer set search_path = public, pg_temp
    as $$
    begin
        return (with asked as (
            select c.id, c.count,
                   exists (select 1 from line_sampling s where s.line_id = p.line_id and s.class = c.class and s.failed_at is null
                           and not exists (select 1 from line_sample_piece m where m.line_id = s.line_id and m.class = s.class and m.piece_id = p.id)) as excused
            from piece p join characteristic c on c.revision_id = p.revision_id
            where p.id = p_piece and p_stage = any (c.stages)
        ), standing as (
            select distinct on (v.characteristic_id, v.instance) v.characteristic_id, v.instance,
                   case when r.submitted_at <= p_conceded then 'conceded' else v.verdict end as verdict
            from report r join measured_value v on v.report_id = r.id
            where r.piece_id = p_piece and r.stage = p_stage
            order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        ), held as (
            select bool_or(verdict = 'does not conform') as failed, p_conceded is null and not bool_or(excused) and count(instance) < max(count) as missed,
                   bool_or(verdict = 'not proven') as unproven
            from (select id, count, excused, null::smallint as instance, null as verdict from asked
                  union all
                  select characteristic_id, null, null, instance, verdict from standing) counted
            group by id
            having max(count) is not null
        )
        select case
            when bool_or(h.failed) then 'does not conform'
            when bool_or(h.missed) then 'incomplete'
            when bool_or(h.unproven) then 'not proven'
            else 'conforms' end
        from piece p left join held h on true
        where p.id = p_piece and (session_user <> 'fablink_app'
                                  or exists (select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()))
        group by p.id);
    end $$;

create or replace function standing_verdict(p_piece uuid, p_stage text) returns text language sql stable as $$ select verdict_beside(p_piece, p_stage, null) $$;

-- What decides whether a piece goes on.
create function settled_verdict(p_piece uuid, p_stage text) returns text language sql stable as $$ select verdict_beside(p_piece, p_stage, conceded_at(p_piece, p_stage)) $$;

create or replace function fails_still(p_piece uuid, p_stage text) returns boolean language sql stable security definer set search_path = public, pg_temp as $$
    with value as (
        select v.characteristic_id, v.instance, v.verdict, r.submitted_at, r.id
        from report r join measured_value v on v.report_id = r.id where r.piece_id = p_piece and r.stage = p_stage
    ), standing as (
        select distinct on (characteristic_id, instance) characteristic_id, instance, verdict, submitted_at from value order by characteristic_id, instance, submitted_at desc, id desc
    )
    select (session_user <> 'fablink_app' or exists (
            select 1 from piece p join party t on t.work_order_id = p.work_order_id where p.id = p_piece and t.organisation_id = actor_organisation()))
      and exists (
        select 1 from standing s
        where s.submitted_at > coalesce(conceded_at(p_piece, p_stage), '-infinity')
          and (s.verdict = 'does not conform'
               or s.verdict = 'not proven' and exists (
                   select 1 from value f where (f.characteristic_id, f.instance) = (s.characteristic_id, s.instance) and f.verdict = 'does not conform')))
$$;

-- As in 0012, and: what a report opens may stand beside what is conceded.
create or replace function route_holds() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare before record; g record; o record; held text;
begin
    select * into g from route_step where id = new.route_step_id;
    if new.started_at is not null and old.started_at is null then
        -- Starting waits for every transaction that touches this piece.
        perform pg_advisory_xact_lock(hashtextextended(new.piece_id::text, 0));
        select number, accepted_at, declined_at, closed_at into o from work_order where id = new.work_order_id;
        if o.accepted_at is null or o.declined_at is not null then
            raise exception 'work order % is not accepted', o.number using errcode = 'FL010';
        end if;
        if o.closed_at is not null then
            raise exception 'work order % is closed', o.number using errcode = 'FL010';
        end if;
        for before in
            select s.*, r.gate, r.notice_hours, r.kind from piece_step s join route_step r on r.id = s.route_step_id
            where s.piece_id = new.piece_id and s.ordinal < new.ordinal order by s.ordinal
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
    end if;
    if new.opened_at is not null and old.opened_at is null then
        if g.gate = 'none' then
            raise exception 'step % has no gate', new.ordinal using errcode = 'FL006';
        end if;
        if new.opened_how = 'report' and (g.opens_by is distinct from 'report'
                or not exists (select 1 from report where id = new.report_id and piece_id = new.piece_id and stage = g.stage
                               and (verdict = 'conforms' or conceded_at(piece_id, stage) is not null))
                or settled_verdict(new.piece_id, g.stage) is distinct from 'conforms') then
            raise exception 'only a conforming report at stage % opens step %', g.stage, new.ordinal using errcode = 'FL006';
        end if;
        if new.opened_how in ('person', 'concession') and actor_organisation() is distinct from new.owner_id then
            raise exception 'only the build shop releases a hold' using errcode = 'FL006';
        end if;
        if new.opened_how = 'person' and g.opens_by = 'report' then
            raise exception 'a report at stage % opens step %', g.stage, new.ordinal using errcode = 'FL006';
        end if;
        if new.opened_how = 'concession' and not exists (select 1 from concession_piece where piece_id = new.piece_id) then
            raise exception 'a concession is recorded before it opens anything' using errcode = 'FL006';
        end if;
        if new.opened_how = 'notice time over' and (g.gate <> 'witness' or new.asked_at is null
                or new.opened_at < new.asked_at + make_interval(hours => g.notice_hours)) then
            raise exception 'the notice time is not over' using errcode = 'FL006';
        end if;
    end if;
    return new;
end $$;

revoke execute on function conceded_at(uuid, text), verdict_beside(uuid, text, timestamptz), settled_verdict(uuid, text) from public;
grant execute on function conceded_at(uuid, text), verdict_beside(uuid, text, timestamptz), settled_verdict(uuid, text) to fablink_app;
