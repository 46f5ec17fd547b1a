-- As in 0033, and where the piece is: with whoever did the step before, unless a packing slip says that it is on the way, or was sent, or that step was an
-- inspection, which may be anywhere; then null.
drop function turns_come(uuid[], timestamptz);
create function turns_come(p_pieces uuid[], p_at timestamptz)
    returns table (piece_id uuid, serial text, owner_id uuid, work_order_id uuid, kind text, organisation_id uuid, whereabouts text)
    language plpgsql security definer set search_path = public, pg_temp as $$
    #variable_conflict use_column
    begin
        return query
        update piece_step s set ready_said_at = p_at
        from piece p join work_order w on w.id = p.work_order_id, route_step r, piece_step b join route_step before on before.id = b.route_step_id
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
        returning p.id, p.serial, p.owner_id, p.work_order_id, r.kind, s.organisation_id,
            (select o.name from organisation o
             where o.id = b.organisation_id and before.kind <> 'ship'
               and (before.kind <> 'inspect' or b.organisation_id = (
                       select x.organisation_id from piece_step x join route_step t on t.id = x.route_step_id
                       where x.piece_id = s.piece_id and x.ordinal < b.ordinal and t.kind <> 'inspect' order by x.ordinal desc limit 1))
               and not exists (select 1 from packing_slip_piece x join packing_slip k on k.id = x.packing_slip_id
                               where x.piece_id = p.id and coalesce(k.to_id, p.owner_id) = s.organisation_id));
    end $$;

-- What comes after this step while nothing holds the piece and it went nowhere else since. Whoever has this step learns so much of the route: where to send it.
create function next_after(p_step uuid) returns table (kind text, organisation_id uuid, organisation text)
    language sql stable security definer set search_path = public, pg_temp as $$
        select r.kind, n.organisation_id, o.name
        from piece_step s join work_order w on w.id = s.work_order_id
             join lateral (select x.* from piece_step x where x.piece_id = s.piece_id and x.ordinal > s.ordinal and x.finished_at is null order by x.ordinal limit 1) n on true
             join route_step r on r.id = n.route_step_id join organisation o on o.id = n.organisation_id
             join lateral piece_stand(s.piece_id) st on st.ended is null and st.nonconformance is null
        where s.id = p_step and n.started_at is null and w.accepted_at is not null and w.declined_at is null and w.closed_at is null
          and not exists (select 1 from joint_hold h join joint j on j.id = h.joint_id where h.piece_id = s.piece_id and h.lifted_at is null and j.removed_at is null)
          and not exists (select 1 from piece_step x join route_step t on t.id = x.route_step_id
                          where x.piece_id = s.piece_id and x.ordinal < n.ordinal
                            and (x.finished_at is null or t.gate <> 'none' and x.opened_at is null
                                 or x.ordinal > s.ordinal and x.organisation_id <> s.organisation_id and t.kind <> 'inspect'))
          and (session_user <> 'fablink_app' or actor_organisation() in (s.organisation_id, s.owner_id))
    $$;

revoke execute on function turns_come(uuid[], timestamptz), next_after(uuid) from public;
grant execute on function turns_come(uuid[], timestamptz), next_after(uuid) to fablink_app, fablink_jobs;
