-- Each value looks its report up by id and work order. Before the first statistics the planner may take the index of the work order for it
-- and read all reports of the order for every value, so that index leads to the one report as well.
drop index report_by_work_order;
create index report_by_work_order on report (work_order_id, id);

-- As in 0018; the values are counted report by report through their key, not by reading the table.
create or replace function values_of_their_report() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user <> 'fablink_app' then return null; end if;
    if exists (select 1 from (select distinct report_id from added) a join report r on r.id = a.report_id
               where (select count(*) from measured_value v where v.report_id = r.id) > r.value_count) then
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

-- As in 0019; the values are read report by report, and what is not asked for falls out where all is counted.
create or replace function standing_verdict(p_piece uuid, p_stage text) returns text language plpgsql stable security definer set search_path = public, pg_temp
    as $$
    begin
        return (with asked as (
            select c.id, c.count,
                   exists (select 1 from line_sampling s where s.line_id = p.line_id and s.class = c.class and s.failed_at is null
                           and not exists (select 1 from line_sample_piece m where m.line_id = s.line_id and m.class = s.class and m.piece_id = p.id)) as excused
            from piece p join characteristic c on c.revision_id = p.revision_id
            where p.id = p_piece and p_stage = any (c.stages)
        ), standing as (
            select distinct on (v.characteristic_id, v.instance) v.characteristic_id, v.instance, v.verdict
            from report r join measured_value v on v.report_id = r.id
            where r.piece_id = p_piece and r.stage = p_stage
            order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        ), held as (
            select bool_or(verdict = 'does not conform') as failed, not bool_or(excused) and count(instance) < max(count) as missed, bool_or(verdict = 'not proven') as unproven
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
