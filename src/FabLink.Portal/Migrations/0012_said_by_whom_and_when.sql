-- What a person with the app's own connection and a valid context could still write: in somebody else's name, for another day,
-- into a report that was submitted, past an order that nobody accepted, through a hold by a report that is out of date.

-- While there is a row the portal's clock tells a story (the demo is played on days that are past). Only the owner of the database writes it.
create table story (
    told  boolean primary key default true check (told),
    since timestamptz not null default clock_timestamp()
);
alter table story enable row level security;

-- Whoever writes is the person of the context, on somebody's behalf or not; and the time is now, give or take how far apart the clocks
-- of two machines may be. Holds depend on it: the newest value stands, and a witness's notice time begins when he was asked.
create function who_and_when() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare now_said jsonb := to_jsonb(new); before jsonb := '{}'; k text; at_key text;
begin
    if session_user <> 'fablink_app' then return new; end if;
    if tg_op = 'UPDATE' then before := to_jsonb(old); end if;
    for k in select x from jsonb_object_keys(now_said) x where x like '%\_by' or x like '%\_at' loop
        if now_said -> k = 'null' or now_said -> k is not distinct from before -> k then
            continue;
        end if;
        if k like '%\_by' then
            if (now_said ->> k)::uuid is distinct from actor_person() then
                raise exception '%.% is whoever writes, and nobody else', tg_table_name, k using errcode = 'FL011';
            end if;
        else
            if now_said ? (left(k, -3) || '_by') and (now_said ->> (left(k, -3) || '_by'))::uuid is distinct from actor_person() then
                raise exception '%.% is said by whoever writes', tg_table_name, k using errcode = 'FL011';
            end if;
            if abs(extract(epoch from (now_said ->> k)::timestamptz - clock_timestamp())) > 300 and not exists (select 1 from story) then
                raise exception '%.% is not now: the clocks of portal and database may differ by five minutes', tg_table_name, k using errcode = 'FL011';
            end if;
        end if;
    end loop;
    return new;
end $$;

-- Every table that the app may write and that says who or when is watched; called after the last migration, so that later tables are too.
create function watch_who_and_when() returns void language plpgsql as $$
declare t text;
begin
    for t in
        select distinct c.relname from pg_class c join pg_attribute a on a.attrelid = c.oid
        where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p') and a.attnum > 0 and not a.attisdropped
          and (a.attname like '%\_by' and a.atttypid = 'uuid'::regtype or a.attname like '%\_at' and a.atttypid = 'timestamptz'::regtype)
          and has_any_column_privilege('fablink_app', c.oid, 'insert, update')
          and not exists (select 1 from pg_trigger x where x.tgrelid = c.oid and x.tgfoid = 'who_and_when'::regproc)
    loop
        execute format('create trigger who_and_when before insert or update on %I for each row execute function who_and_when()', t);
    end loop;
end $$;
revoke execute on function watch_who_and_when() from public;

-- What the build shop says for a shop says so, and nobody else says it.
create function on_behalf_says_so() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare is_owner boolean;
begin
    if session_user <> 'fablink_app' then return new; end if;
    if tg_table_name = 'work_order' then
        if old.accepted_at is not null and (new.accepted_at, new.accepted_by, new.accepted_for) is distinct from (old.accepted_at, old.accepted_by, old.accepted_for)
           or old.declined_at is not null and (new.declined_at, new.declined_by, new.decline_reason) is distinct from (old.declined_at, old.declined_by, old.decline_reason) then
            raise exception 'what was said of work order % stays said', new.number using errcode = 'FL008';
        end if;
        if new.accepted_at is distinct from old.accepted_at and new.accepted_for is distinct from (actor_organisation() = new.owner_id) then
            raise exception 'whoever accepts for the shop says so' using errcode = 'FL011';
        end if;
        return new;
    end if;
    if tg_table_name = 'piece_step' then
        if (new.started_at, new.finished_at, new.asked_at) is distinct from (old.started_at, old.finished_at, old.asked_at)
           and actor_organisation() <> new.organisation_id and not new.on_behalf
           or new.on_behalf and not old.on_behalf and actor_organisation() = new.organisation_id then
            raise exception 'whoever does a step for the shop says so' using errcode = 'FL011';
        end if;
        return new;
    end if;
    select w.owner_id = actor_organisation() into is_owner from work_order w where w.id = new.work_order_id;
    if new.on_behalf and not is_owner or tg_argv[0] = 'always' and new.on_behalf is distinct from is_owner then
        raise exception 'whoever speaks for the shop says so' using errcode = 'FL011';
    end if;
    return new;
end $$;
create trigger who_and_when_for before update on work_order for each row execute function on_behalf_says_so();
create trigger who_and_when_for before update on piece_step for each row execute function on_behalf_says_so();
create trigger who_and_when_for before insert on promise for each row execute function on_behalf_says_so('always');
create trigger who_and_when_for before insert on question for each row execute function on_behalf_says_so('always');
create trigger who_and_when_for before insert on packing_slip for each row execute function on_behalf_says_so('always');
create trigger who_and_when_for before insert on report for each row execute function on_behalf_says_so();
create trigger who_and_when_for before insert on upload for each row execute function on_behalf_says_so();

-- reports --------------------------------------------------------------------------------------------------------------
-- A report is measured by whoever submits it; a shop that has only a step of the route measures at the stages of its steps.
create policy measured_by_us on report as restrictive for insert to fablink_app
    with check (organisation_id = (select actor_organisation()));
create policy own_stages on report as restrictive for insert to fablink_app
    with check (work_order_id in (select my_orders())
                or exists (select 1 from piece_step s join route_step r on r.id = s.route_step_id
                           where s.piece_id = report.piece_id and s.organisation_id = (select actor_organisation()) and r.stage = report.stage));

-- A report has the values it was submitted with, none later: as many as it says, of its own revision and stage, and none called good
-- that lies outside its limits (a requirement that rounds, or that judges by probability, is the portal's to judge).
create function values_of_their_report() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user <> 'fablink_app' then return null; end if;
    if exists (select 1 from (select report_id, count(*) as n from measured_value where report_id in (select report_id from added) group by report_id) v
               join report r on r.id = v.report_id where v.n > r.value_count) then
        raise exception 'a submitted report keeps its values' using errcode = 'FL007';
    end if;
    if exists (select 1 from added v join report r on r.id = v.report_id left join characteristic c on c.id = v.characteristic_id and c.revision_id = r.revision_id
               where c.id is null or r.stage <> all (c.stages) or v.instance > c.count
                  or v.verdict = 'conforms' and (v.value is null
                      or c.kind in ('attribute', 'text') and v.value <> 1
                      or c.rounding is distinct from 'rounding' and c.rule <> 'probability' and (v.value < c.lower_limit or v.value > c.upper_limit))) then
        raise exception 'a value is of its report, and not better than its limits' using errcode = 'FL007';
    end if;
    return null;
end $$;
create trigger values_of_their_report after insert on measured_value referencing new table as added for each statement execute function values_of_their_report();

create function report_has_its_values() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and (select count(*) from measured_value where report_id = new.id) <> new.value_count then
        raise exception 'a report is submitted with its values' using errcode = 'FL007';
    end if;
    return null;
end $$;
create constraint trigger report_has_its_values after insert on report deferrable initially deferred for each row execute function report_has_its_values();

-- How a piece stands at a stage by the newest value of each instance, whoever measured it: the worst of all, as the portal judges.
-- Null to whoever has no part in the piece.
create function standing_verdict(p_piece uuid, p_stage text) returns text language sql stable security definer set search_path = public, pg_temp
    as $$
        with asked as (
            select c.id, c.count from piece p join characteristic c on c.revision_id = p.revision_id
            where p.id = p_piece and p_stage = any (c.stages)
        ), standing as (
            select distinct on (v.characteristic_id, v.instance) v.characteristic_id, v.instance, v.verdict
            from report r join measured_value v on v.report_id = r.id
            where r.piece_id = p_piece and r.stage = p_stage and v.characteristic_id in (select id from asked)
            order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        )
        select case
            when exists (select 1 from standing where verdict = 'does not conform') then 'does not conform'
            when (select count(*) from standing) < (select sum(count) from asked) then 'incomplete'
            when exists (select 1 from standing where verdict = 'not proven') then 'not proven'
            else 'conforms' end
        from piece p
        where p.id = p_piece and (session_user <> 'fablink_app'
                                  or exists (select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()))
    $$;

-- The number of the nonconformance that is open at a piece and stage, so that a second failing report joins it, whoever measured the first.
create function open_nonconformance(p_piece uuid, p_stage text) returns text language sql stable security definer set search_path = public, pg_temp
    as $$
        select n.number from nonconformance n
        where n.piece_id = p_piece and n.stage = p_stage and n.closed_at is null
          and exists (select 1 from party t where t.work_order_id = n.work_order_id and t.organisation_id = actor_organisation())
    $$;
revoke execute on function who_and_when(), on_behalf_says_so(), values_of_their_report(), report_has_its_values(),
                           standing_verdict(uuid, text), open_nonconformance(uuid, text) from public;
grant execute on function standing_verdict(uuid, text), open_nonconformance(uuid, text) to fablink_app;

-- the route ------------------------------------------------------------------------------------------------------------
-- As before, and: nothing starts on an order that is not accepted, or is over; a hold opens by the values that stand now,
-- not by a report that newer values contradict; what a report should open is opened otherwise under a concession only.
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
                or not exists (select 1 from report where id = new.report_id and piece_id = new.piece_id and stage = g.stage and verdict = 'conforms')
                or standing_verdict(new.piece_id, g.stage) is distinct from 'conforms') then
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

-- A nonconformance heals when the values that stand now do not fail any more, whoever measured them.
create function heals_when_nothing_fails() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and old.closed_at is null and new.closed_at is not null and new.closed_by_report_id is not null
       and standing_verdict(new.piece_id, new.stage) = 'does not conform' then
        raise exception 'nonconformance % stands: a newer value fails', new.number using errcode = 'FL009';
    end if;
    return new;
end $$;
create trigger heals_when_nothing_fails before update on nonconformance for each row execute function heals_when_nothing_fails();
revoke execute on function heals_when_nothing_fails() from public;

-- people ---------------------------------------------------------------------------------------------------------------
-- What a person can be depends on whose they are: only the build shop has engineers and buyers.
create function roles_of(p_organisation uuid) returns text[] language sql stable security definer set search_path = public, pg_temp
    as $$ select case kind when 'build shop' then array['engineer', 'buyer'] else array['fabricator', 'coater'] end
          from organisation where id = p_organisation $$;
revoke execute on function roles_of(uuid) from public;
grant execute on function roles_of(uuid) to fablink_app;
create policy roles_of_their_shop on person as restrictive for insert to fablink_app with check (roles <@ roles_of(organisation_id));
create policy roles_of_their_shop_still on person as restrictive for update to fablink_app using (true) with check (roles <@ roles_of(organisation_id));
