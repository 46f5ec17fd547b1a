-- Every decision on a nonconformance stays on record, the first as well as the one that took its place.
create table nonconformance_decision (
    id               bigint generated always as identity primary key,
    nonconformance_id uuid not null references nonconformance,
    work_order_id    uuid not null references work_order,
    piece_id         uuid not null references piece,
    decided_at       timestamptz not null,
    decided_by       uuid not null references person,
    disposition      text not null,
    reason           text not null
);
create index nonconformance_decision_by_nonconformance on nonconformance_decision (nonconformance_id);
create index nonconformance_decision_by_piece on nonconformance_decision (piece_id);

insert into nonconformance_decision (nonconformance_id, work_order_id, piece_id, decided_at, decided_by, disposition, reason)
select n.id, n.work_order_id, n.piece_id, (a.after ->> 'disposed_at')::timestamptz, (a.after ->> 'disposed_by')::uuid, a.after ->> 'disposition', a.after ->> 'disposition_reason'
from audit a join nonconformance n on n.id = (a.after ->> 'id')::uuid
where a.table_name = 'nonconformance' and a.after ->> 'disposition_reason' is not null
      and (a.before ->> 'disposed_at', a.before ->> 'disposition') is distinct from (a.after ->> 'disposed_at', a.after ->> 'disposition')
order by a.id;

create function keep_decision() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
begin
    insert into nonconformance_decision (nonconformance_id, work_order_id, piece_id, decided_at, decided_by, disposition, reason)
    values (new.id, new.work_order_id, new.piece_id, new.disposed_at, new.disposed_by, new.disposition, new.disposition_reason);
    return null;
end $$;
-- What a good report closes before anybody decides has no reason, and nobody decided it.
create trigger keep_decision after update of disposed_at on nonconformance for each row
    when (new.disposition_reason is not null and new.disposed_at is distinct from old.disposed_at) execute function keep_decision();
create trigger never_changes before update or delete or truncate on nonconformance_decision for each statement execute function never_changes();

alter table nonconformance_decision enable row level security;
revoke all on nonconformance_decision from public;
grant select on nonconformance_decision to fablink_app;
create policy see on nonconformance_decision for select to fablink_app using (nonconformance_id in (select id from nonconformance));
revoke execute on function keep_decision() from public;

-- As in 0011; a report in which what is conceded fails still makes good what else had failed. That nothing fails still, beside what is conceded, is asked
-- when it closes (0024, 0029).
create or replace function decided_by_the_owner() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare healed boolean;
begin
    if session_user <> 'fablink_app' then
        return new;
    end if;
    if (new.owner_id, new.work_order_id, new.piece_id, new.report_id, new.stage, new.number, new.opened_at, new.opened_by)
       is distinct from (old.owner_id, old.work_order_id, old.piece_id, old.report_id, old.stage, old.number, old.opened_at, old.opened_by)
       or (old.closed_at is not null and new.closed_at is distinct from old.closed_at) then
        raise exception 'what was found and what was closed stays so' using errcode = 'FL009';
    end if;
    healed := old.closed_at is null and new.closed_at is not null and exists (
        select 1 from report r where r.id = new.closed_by_report_id and r.id <> new.report_id and r.piece_id = new.piece_id and r.stage = new.stage
                                 and r.submitted_at >= new.opened_at) and not fails_still(new.piece_id, new.stage);
    if healed and new.disposition = coalesce(old.disposition, 'rework') then
        return new;
    end if;
    if actor_organisation() is distinct from new.owner_id then
        raise exception 'only the build shop decides nonconformance %', new.number using errcode = 'FL009';
    end if;
    if new.closed_at is not null and old.closed_at is null and not healed and new.disposition is null then
        raise exception 'nonconformance % is closed by a report or by a disposition', new.number using errcode = 'FL009';
    end if;
    return new;
end $$;
