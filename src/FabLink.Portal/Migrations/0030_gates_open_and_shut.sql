-- When a gate opened and when it shut again: a step knows only how it stands now.
create table gate_event (
    id            bigint generated always as identity primary key,
    step_id       uuid not null references piece_step,
    piece_id      uuid not null references piece,
    work_order_id uuid not null references work_order,
    at            timestamptz not null,
    opened        boolean not null,
    how           text,
    by            uuid references person,
    reason        text
);
create index gate_event_by_piece on gate_event (piece_id);
create index gate_event_by_step on gate_event (step_id);

insert into gate_event (step_id, piece_id, work_order_id, at, opened, how, by, reason)
select id, piece_id, work_order_id, opened_at, true, opened_how, opened_by, opened_reason from piece_step where opened_at is not null order by opened_at, id;

create function keep_gate_event() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    insert into gate_event (step_id, piece_id, work_order_id, at, opened, how, by, reason)
    values (new.id, new.piece_id, new.work_order_id,
            -- A report shuts it, the one that just came.
            coalesce(new.opened_at, (select max(submitted_at) from report r join route_step t on t.id = new.route_step_id where r.piece_id = new.piece_id and r.stage = t.stage), now()),
            new.opened_at is not null, new.opened_how, new.opened_by, new.opened_reason);
    return null;
end $$;
create trigger keep_gate_event after update of opened_at on piece_step for each row
    when (old.opened_at is distinct from new.opened_at) execute function keep_gate_event();
create trigger never_changes before update or delete or truncate on gate_event for each statement execute function never_changes();

alter table gate_event enable row level security;
revoke all on gate_event from public;
grant select on gate_event to fablink_app;
create policy see on gate_event for select to fablink_app
    using (work_order_id in (select my_orders()) or step_id in (select id from piece_step where organisation_id = (select actor_organisation())));
revoke execute on function keep_gate_event() from public;
