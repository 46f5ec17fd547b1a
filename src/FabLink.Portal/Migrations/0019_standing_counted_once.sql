-- The verdict that stands, as in 0018; what is there of each characteristic is counted once, not once per characteristic: a drawing of 500
-- balloons costs one pass over its rows, not a quarter of a million comparisons (a union,
-- because a planner without statistics would join the two in a loop).
-- In plpgsql, which plans it once per session and not once per call.
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
            where r.piece_id = p_piece and r.stage = p_stage and v.characteristic_id in (select id from asked)
            order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        ), held as (
            select id, max(count) as count, bool_or(excused) as excused, count(instance) as measured
            from (select id, count, excused, null::smallint as instance from asked
                  union all
                  select characteristic_id, null, null, instance from standing) counted
            group by id
        )
        select case
            when exists (select 1 from standing where verdict = 'does not conform') then 'does not conform'
            when exists (select 1 from held where not excused and measured < count) then 'incomplete'
            when exists (select 1 from standing where verdict = 'not proven') then 'not proven'
            else 'conforms' end
        from piece p
        where p.id = p_piece and (session_user <> 'fablink_app'
                                  or exists (select 1 from party t where t.work_order_id = p.work_order_id and t.organisation_id = actor_organisation())));
    end $$;
