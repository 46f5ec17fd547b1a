-- Every change leaves a row that nobody can change: who, when, what, before and after.
-- Measured values are never changed or deleted; the row of their report stands for them.

create table audit (
    id              bigint generated always as identity primary key,
    at              timestamptz not null default clock_timestamp(),
    person_id       uuid,
    organisation_id uuid,
    db_role         text not null,
    table_name      text not null,
    row_key         text not null,
    work_order_id   uuid,
    piece_id        uuid,
    action          text not null check (action in ('insert', 'update', 'delete')),
    before          jsonb,
    after           jsonb
);
create index audit_by_row on audit (table_name, row_key, id);
create index audit_by_piece on audit (piece_id, id) where piece_id is not null;
create index audit_by_work_order on audit (work_order_id, id) where work_order_id is not null;

create function write_audit() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare b jsonb; a jsonb; r jsonb;
begin
    if tg_op <> 'INSERT' then b := to_jsonb(old) - 'password_hash' - 'security_stamp'; end if;
    if tg_op <> 'DELETE' then a := to_jsonb(new) - 'password_hash' - 'security_stamp'; end if;
    if tg_op = 'UPDATE' and to_jsonb(old) = to_jsonb(new) then return null; end if;
    r := coalesce(a, b);
    insert into audit (person_id, organisation_id, db_role, table_name, row_key, work_order_id, piece_id, action, before, after)
    values (actor_person(), actor_organisation(), session_user, tg_table_name,
            coalesce(r ->> 'id', r ->> 'person_id', concat_ws('/', r ->> 'owner_id', r ->> 'concession_id', r ->> 'packing_slip_id', r ->> 'organisation_id', r ->> 'relation', r ->> 'subject_id', r ->> 'piece_id')),
            case when tg_table_name = 'work_order' then (r ->> 'id')::uuid else (r ->> 'work_order_id')::uuid end,
            case when tg_table_name = 'piece' then (r ->> 'id')::uuid else (r ->> 'piece_id')::uuid end,
            lower(tg_op), b, a);
    return null;
end $$;

do $$ declare t text; begin
    foreach t in array array['organisation', 'supplier', 'person', 'credential', 'party', 'build', 'part', 'drawing', 'revision', 'revision_file', 'characteristic',
                             'work_order', 'work_order_line', 'route_step', 'piece', 'piece_step', 'promise', 'question', 'packing_slip', 'packing_slip_piece',
                             'attachment', 'instrument', 'report', 'nonconformance', 'concession', 'concession_piece', 'notice'] loop
        execute format('create trigger write_audit after insert or update or delete on %I for each row execute function write_audit()', t);
    end loop;
end $$;

create function never_changes() returns trigger language plpgsql as $$
begin
    raise exception '% is never changed or deleted', tg_table_name using errcode = 'FL007';
end $$;
create trigger never_changes before update or delete or truncate on audit for each statement execute function never_changes();
create trigger never_changes before update or delete or truncate on measured_value for each statement execute function never_changes();
create trigger never_changes before update or delete or truncate on report for each statement execute function never_changes();
create trigger never_changes before update or delete or truncate on promise for each statement execute function never_changes();

alter table audit enable row level security;
revoke all on audit from public;
revoke execute on function write_audit(), never_changes() from public;
grant select on audit to fablink_app;
create policy see on audit for select to fablink_app
    using (organisation_id = (select actor_organisation()) or work_order_id in (select my_own_orders()));
