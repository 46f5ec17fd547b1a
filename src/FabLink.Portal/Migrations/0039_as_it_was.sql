-- As in 0033, without what a concession covers.
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
          and settled_verdict(p.id, r.stage) <> 'conforms'
          and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
          and not taken_as_it_is(s.id)
    $$;

-- As in 0030; a gate that the failing sample of the line shuts is shut when that failed, whatever was measured of the piece itself.
create or replace function keep_gate_event() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare measured timestamptz; failed timestamptz;
begin
    if new.opened_at is null then
        select max(r.submitted_at) into measured from report r join route_step t on t.id = new.route_step_id where r.piece_id = new.piece_id and r.stage = t.stage;
        select max(f.failed_at) into failed from line_sampling f where f.line_id = new.line_id and f.failed_at > coalesce(measured, '-infinity');
    end if;
    insert into gate_event (step_id, piece_id, work_order_id, at, opened, how, by, reason)
    values (new.id, new.piece_id, new.work_order_id,
            -- A report shuts it, the one that just came, or the sample.
            coalesce(new.opened_at, failed, measured, now()),
            new.opened_at is not null, case when failed is null then new.opened_how else 'sample failed' end, new.opened_by, new.opened_reason);
    return null;
end $$;
