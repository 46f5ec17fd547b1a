-- Which of many pieces are over, and how (piece_stand), in one look at all of them: a file is held against every piece of its line.
create function over_among(p_pieces uuid[]) returns table (id uuid, ended text) language sql stable security definer set search_path = public, pg_temp as $$
    select p.id, coalesce(n.disposition, case when w.close_reason is not null and not is_through(p.id) then 'cancelled' else 'closed' end)
    from piece p join work_order w on w.id = p.work_order_id
         left join lateral (select c.disposition from nonconformance c where c.piece_id = p.id and c.closed_at is null and c.disposition in ('scrap', 'remake') limit 1) n on true
    where p.id = any (p_pieces) and (n.disposition is not null or w.closed_at is not null)
      and (session_user <> 'fablink_app' or exists (select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()))
$$;
revoke execute on function over_among(uuid[]) from public;
grant execute on function over_among(uuid[]) to fablink_app;
