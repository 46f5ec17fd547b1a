-- What came after the rules of 0012: a position may use the bonus of its measured size, and a piece outside a sample is not asked for
-- what only the sample is measured for.

create or replace function values_of_their_report() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
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
                      or c.rounding is distinct from 'rounding' and c.rule <> 'probability' and (v.value < c.lower_limit or v.value > c.upper_limit + coalesce(v.bonus, 0))
                      or v.bonus is not null and c.size_balloon is null)) then
        raise exception 'a value is of its report, and not better than its limits' using errcode = 'FL007';
    end if;
    return null;
end $$;

create or replace function standing_verdict(p_piece uuid, p_stage text) returns text language sql stable security definer set search_path = public, pg_temp
    as $$
        with asked as (
            select c.id, c.count,
                   exists (select 1 from line_sampling s where s.line_id = p.line_id and s.class = c.class and s.failed_at is null
                           and not exists (select 1 from line_sample_piece m where m.line_id = s.line_id and m.class = s.class and m.piece_id = p.id)) as excused
            from piece p join characteristic c on c.revision_id = p.revision_id
            where p.id = p_piece and p_stage = any (c.stages)
        ), standing as (
            select distinct on (v.characteristic_id, v.instance) v.characteristic_id, v.instance, v.verdict
            from report r join measured_value v on v.report_id = r.id
            where r.piece_id = p_piece and r.stage = p_stage and v.characteristic_id in (select id from asked)
            order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        )
        select case
            when exists (select 1 from standing where verdict = 'does not conform') then 'does not conform'
            when exists (select 1 from asked a where not a.excused and a.count > (select count(*) from standing s where s.characteristic_id = a.id)) then 'incomplete'
            when exists (select 1 from standing where verdict = 'not proven') then 'not proven'
            else 'conforms' end
        from piece p
        where p.id = p_piece and (session_user <> 'fablink_app'
                                  or exists (select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation()))
    $$;
