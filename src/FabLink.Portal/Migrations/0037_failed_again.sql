-- As in 0026: what was reworked or repaired failed again when a value measured since fails. A report that brings only some values again
-- does not conform as long as the rest stands as it was found; that is no answer to the rework yet.
create or replace function decision_of(n nonconformance) returns text language sql stable as $$
    select case when n.disposition in ('rework', 'repair') and exists (
        select 1 from report r join measured_value v on v.report_id = r.id
        where r.piece_id = n.piece_id and r.stage = n.stage and r.submitted_at > n.disposed_at and v.verdict = 'does not conform')
        then null else n.disposition end
$$;
