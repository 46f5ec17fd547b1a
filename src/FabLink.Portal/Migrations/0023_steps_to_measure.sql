-- The steps of the actor's organisation at whose stage the drawing asks for something and no report conforms yet; what holds for a report is listed as held already.
create function steps_to_measure() returns table (id uuid)
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
    $$;
revoke execute on function steps_to_measure() from public;
grant execute on function steps_to_measure() to fablink_app;
