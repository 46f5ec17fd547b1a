-- A piece outside the sample of all that its stage asks for has nothing to measure there, and its hold waits for a report all the same: one without values.
alter table report drop constraint report_value_count_check;
alter table report add constraint report_value_count_check check (value_count >= 0);

create or replace function report_has_its_values() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if session_user = 'fablink_app' and (
        (select count(*) from measured_value where report_id = new.id) <> new.value_count
        or new.value_count = 0 and standing_verdict(new.piece_id, new.stage) is distinct from 'conforms') then
        raise exception 'a report is submitted with its values' using errcode = 'FL007';
    end if;
    return null;
end $$;
