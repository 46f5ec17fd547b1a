-- Nobody opens a gate after a step that has not begun, by whatever word. A hold that a person opens is looked at when the step is done, a witness comes while it
-- is in work; a concession of what was measured before the step says nothing of what the step made.
drop trigger report_is_of_its_step on piece_step;
drop function report_is_of_its_step();

create function gate_is_of_its_step() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare g text;
begin
    select gate into g from route_step where id = new.route_step_id;
    if not step_is_reached(new.id) or new.opened_how = 'person' and new.started_at is null then
        raise exception 'step % has not begun', new.ordinal using errcode = 'FL006';
    end if;
    if new.opened_how = 'person' and g = 'hold' and new.finished_at is null then
        raise exception 'step % is not finished', new.ordinal using errcode = 'FL006';
    end if;
    return new;
end $$;
create trigger gate_is_of_its_step before update of opened_at on piece_step for each row
    when (old.opened_at is null and new.opened_at is not null) execute function gate_is_of_its_step();
revoke execute on function gate_is_of_its_step() from public;

-- Whoever has a step at a stage measures there (0035), so it sees what the drawing asks at that stage, and no more. Before, a shop that only welds or inspects saw nothing to measure.
create function actor_kind() returns text language sql stable security definer set search_path = public, pg_temp as $$
    select kind from organisation where id = actor_organisation()
$$;
revoke execute on function actor_kind() from public;
grant execute on function actor_kind() to fablink_app;

create function my_process_stages() returns table (revision_id uuid, stage text) language sql stable security definer set search_path = public, pg_temp as $$
    select distinct l.revision_id, t.stage
    from route_step t join work_order_line l on l.id = t.line_id join work_order w on w.id = t.work_order_id
    where t.organisation_id = actor_organisation() and t.stage is not null and w.issued_at is not null
$$;
revoke execute on function my_process_stages() from public;
grant execute on function my_process_stages() to fablink_app;

alter policy shared on characteristic
    using (revision_id in (select my_subjects())
           and (revision_id in (select subject_id from party where organisation_id = (select actor_organisation()) and relation = 'shop')
                or 'after coat' = any (stages) and (select actor_kind()) = 'coater'
                or exists (select 1 from my_process_stages() mine where mine.revision_id = characteristic.revision_id and mine.stage = any (stages))));

-- What failed is made good by a report that shows it, of whoever has the stage: also where somebody else had found it, whose records they do not see.
create function heal_nonconformances(p_pieces uuid[], p_reports uuid[], p_stage text, p_at timestamptz) returns table (id uuid, number text, piece_id uuid)
    language sql security definer set search_path = public, pg_temp as $$
    update nonconformance n set closed_at = p_at, closed_by = actor_person(), closed_by_report_id = r.id, disposition = coalesce(n.disposition, 'rework'),
           disposed_at = coalesce(n.disposed_at, p_at), disposed_by = coalesce(n.disposed_by, actor_person()), row_version = n.row_version + 1
    from unnest(p_pieces, p_reports) shown (piece, report) join report r on r.id = shown.report and r.piece_id = shown.piece and r.stage = p_stage and r.organisation_id = actor_organisation()
    where n.piece_id = shown.piece and n.stage = p_stage and n.closed_at is null and coalesce(n.disposition, '') not in ('scrap', 'remake') and not fails_still(n.piece_id, p_stage)
    returning n.id, n.number, n.piece_id
$$;
revoke execute on function heal_nonconformances(uuid[], uuid[], text, timestamptz) from public;
grant execute on function heal_nonconformances(uuid[], uuid[], text, timestamptz) to fablink_app;

-- Whoever has a step at a stage has to know what was found there, whoever found it: it is their work that is measured, and theirs to make good.
create function given_to_us(p_piece uuid, p_stage text) returns boolean language sql stable security definer set search_path = public, pg_temp cost 500 as $$
    select exists (select 1 from piece_step s join route_step t on t.id = s.route_step_id
                   where s.piece_id = p_piece and s.organisation_id = actor_organisation() and t.stage = p_stage)
$$;
revoke execute on function given_to_us(uuid, text) from public;
grant execute on function given_to_us(uuid, text) to fablink_app;

alter policy see on report
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()) or given_to_us(piece_id, stage));
alter policy see on measured_value
    using (work_order_id in (select my_orders())
           or report_id in (select id from report where organisation_id = (select actor_organisation()))
           or exists (select 1 from report r where r.id = report_id));
alter policy see on nonconformance
    using (work_order_id in (select my_orders())
           or report_id in (select id from report where organisation_id = (select actor_organisation()))
           or given_to_us(piece_id, stage));

-- As in 0039. What waits at a hold is to be measured as well, and so is what was measured only before the step that a report opens.
create or replace function steps_to_measure() returns table (id uuid)
    language sql stable security definer set search_path = public, pg_temp as $$
        select s.id
        from piece_step s
        join route_step r on r.id = s.route_step_id
        join piece p on p.id = s.piece_id
        join work_order w on w.id = s.work_order_id
        left join lateral (select o.verdict, o.submitted_at from report o where o.piece_id = p.id and o.stage = r.stage order by o.submitted_at desc, o.id desc limit 1) newest on true
        where s.organisation_id = actor_organisation() and w.declined_at is null and w.closed_at is null
          and s.started_at is not null and s.opened_at is null and r.stage is not null
          and exists (select 1 from characteristic c where c.revision_id = p.revision_id and r.stage = any (c.stages))
          and (coalesce(newest.verdict, '') <> 'conforms' and settled_verdict(p.id, r.stage) <> 'conforms'
               or r.gate = 'hold' and r.opens_by = 'report' and (s.finished_at is not null or newest.submitted_at < s.started_at and r.kind not in ('inspect', 'receive')))
          and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
          and not taken_as_it_is(s.id)
    $$;
