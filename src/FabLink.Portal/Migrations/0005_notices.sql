-- Messages that the portal owes somebody, and the truth about their delivery.

create table notice (
    id              uuid primary key,
    kind            text not null,
    organisation_id uuid not null references organisation,
    person_id       uuid not null references person,
    work_order_id   uuid references work_order,
    piece_id        uuid references piece,
    subject         text not null check (subject <> '' and subject !~ '[\r\n]'),
    body            text not null,
    path            text not null check (path like '/%' and path not like '//%'),
    said_once       text,                    -- the same thing is said once to a person, however often a sweep runs
    created_at      timestamptz not null,
    created_by      uuid references person,
    read_at         timestamptz,
    unique (person_id, said_once)
);
create index notice_by_person on notice (person_id, created_at desc);
create index notice_by_work_order on notice (work_order_id);

-- What must happen after a commit. Written in the transaction that caused it; done by a job that may run twice.
create table outbox (
    id          uuid primary key,
    kind        text not null check (kind in ('mail a notice', 'mail a sign-in link')),
    subject_id  uuid not null,
    detail      text not null default '',
    created_at  timestamptz not null,
    next_try_at timestamptz not null,
    tries       integer not null default 0,
    last_error  text,
    done_at     timestamptz,
    message_id  text not null unique
);
create index outbox_due on outbox (next_try_at) where done_at is null;
create index outbox_by_subject on outbox (subject_id);

-- The one way to tell somebody: it may reach people of another organisation on the same work order, and nobody else.
-- Returns how many people were told.
create function tell(p_kind text, p_organisation uuid, p_roles text[], p_work_order uuid, p_piece uuid,
                     p_subject text, p_body text, p_path text, p_said_once text, p_at timestamptz)
    returns integer language plpgsql security definer set search_path = public, pg_temp as $$
declare told integer := 0; somebody record; fresh uuid; mail text;
begin
    if actor_organisation() is not null and not exists (
            select 1 from party where work_order_id = p_work_order and organisation_id = actor_organisation()) then
        raise exception 'not a party of this work order' using errcode = '42501';
    end if;
    if not exists (select 1 from party where work_order_id = p_work_order and organisation_id = p_organisation) then
        raise exception 'the organisation told is not a party of this work order' using errcode = '42501';
    end if;
    for somebody in
        select p.id from person p where p.organisation_id = p_organisation and p.left_at is null and p.roles && p_roles order by p.id
    loop
        fresh := gen_random_uuid();
        insert into notice (id, kind, organisation_id, person_id, work_order_id, piece_id, subject, body, path, said_once, created_at, created_by)
        values (fresh, p_kind, p_organisation, somebody.id, p_work_order, p_piece,
                left(regexp_replace(p_subject, '[\r\n]+', ' ', 'g'), 300), p_body, p_path, p_said_once, p_at, actor_person())
        on conflict (person_id, said_once) do nothing;
        if found then
            mail := '<' || fresh || '@fablink.invalid>';
            insert into outbox (id, kind, subject_id, created_at, next_try_at, message_id)
            values (gen_random_uuid(), 'mail a notice', fresh, p_at, p_at, mail);
            told := told + 1;
        end if;
    end loop;
    return told;
end $$;

-- Heard by every portal after the commit; the sweep finds what nobody heard.
create function ring_outbox() returns trigger language plpgsql as $$
begin
    perform pg_notify('outbox', '');
    return null;
end $$;
create trigger ring_outbox after insert on outbox for each statement execute function ring_outbox();
