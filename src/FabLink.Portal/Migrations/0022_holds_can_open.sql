-- A hold that waits for a report stands where the drawing asks for something: a report of nothing opens nothing, and the piece would never go on.
-- Where the drawing asks nothing at that stage an engineer releases the hold by name. The draft says so before it is issued.
create function opened_by_name(p_order uuid) returns void language sql set search_path = public, pg_temp as $$
    update route_step t set opens_by = 'person'
    from work_order_line l
    where l.id = t.line_id and t.opens_by = 'report' and t.work_order_id = coalesce(p_order, t.work_order_id)
      and not exists (select 1 from characteristic c where c.revision_id = l.revision_id and t.stage = any (c.stages))
$$;

-- Orders that were issued before this rule.
alter table route_step disable trigger issued_is_final;
select opened_by_name(null);
alter table route_step enable trigger issued_is_final;

create function holds_can_open() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform opened_by_name(new.id);
    return new;
end $$;
create trigger holds_can_open before update of issued_at on work_order for each row
    when (new.issued_at is not null and old.issued_at is null) execute function holds_can_open();
revoke execute on function opened_by_name(uuid), holds_can_open() from public;
