-- An order that is stopped before its pieces are through says why; what was said stays said.
alter table work_order add column close_reason text check (close_reason <> '' and length(close_reason) <= 2000);
create function close_reason_stays() returns trigger language plpgsql as $$
begin
    if new.close_reason is distinct from old.close_reason and (old.closed_at is not null or new.closed_at is null) then
        raise exception 'the reason is said when the order is closed' using errcode = 'FL008';
    end if;
    return new;
end $$;
create trigger close_reason_stays before update of close_reason on work_order for each row execute function close_reason_stays();
revoke execute on function close_reason_stays() from public;
