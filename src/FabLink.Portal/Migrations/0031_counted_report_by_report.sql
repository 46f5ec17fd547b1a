-- What a submission costs depends on what it brings, not on how many reports and pieces there are besides.

-- As in 0020; the values are counted for the reports of the statement only. Before, the planner counted those of every report there is.
create or replace function values_of_their_report() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user <> 'fablink_app' then return null; end if;
    if exists (select 1 from (select distinct report_id from added) a
               cross join lateral (select count(*) as n from measured_value v where v.report_id = a.report_id) there
               join report r on r.id = a.report_id where there.n > r.value_count) then
        raise exception 'a submitted report keeps its values' using errcode = 'FL007';
    end if;
    if exists (select 1 from added v join report r on r.id = v.report_id left join characteristic c on c.id = v.characteristic_id and c.revision_id = r.revision_id
               where c.id is null or r.stage <> all (c.stages) or v.instance > c.count
                  or v.verdict = 'conforms' and (v.value is null
                      or c.kind in ('attribute', 'text') and v.value <> 1
                      or c.rounding is distinct from 'rounding' and c.rule <> 'probability' and (v.value < c.lower_limit or v.value > c.upper_limit + coalesce(v.bonus, 0))
                      or v.bonus is not null and c.size_balloon is null)) then
        raise exception 'a value is of its report, and not better than its limits' using errcode = 'FL007';
    end if;
    return null;
end $$;

-- The planner takes a function for as cheap as a comparison and for a thousand rows unless it is told; these look at everything measured on a piece.
alter function step_is_reached(uuid) cost 500;
alter function verdict_beside(uuid, text, timestamptz) cost 5000;
alter function fails_still(uuid, text) cost 5000;

-- As in 0026, in a language that keeps its plan: a trigger asks it once for each row, and each time it was planned anew.
create or replace function piece_stand(p_piece uuid) returns table (nonconformance text, decided text, failed_stage text, ended text, why text)
    language plpgsql stable security definer set search_path = public, pg_temp cost 500 rows 1 as $$
    begin
        return query
        select n.number, n.disposition, n.stage,
               case when n.disposition in ('scrap', 'remake') then n.disposition when w.close_reason is not null and not is_through(p.id) then 'cancelled' end,
               w.close_reason
        from piece p join work_order w on w.id = p.work_order_id
             left join lateral (
                 select c.number, decision_of(c) as disposition, c.stage from nonconformance c where c.piece_id = p.id and c.closed_at is null
                 order by c.disposition in ('scrap', 'remake') desc nulls last, decision_of(c) is not null, c.opened_at limit 1) n on true
        where p.id = p_piece and (session_user <> 'fablink_app' or exists (
            select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()));
    end $$;
