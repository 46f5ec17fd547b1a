-- Measured values and what follows from them.

create table instrument (
    id                    uuid primary key,
    organisation_id       uuid not null references organisation,
    name                  text not null check (name <> ''),
    kind                  text not null,
    unit                  text not null check (unit in ('mm', 'deg')),
    resolution            numeric not null check (resolution > 0),
    uncertainty           numeric not null check (uncertainty >= 0),              -- expanded, k = 2
    uncertainty_per_metre numeric not null default 0 check (uncertainty_per_metre >= 0),
    calibration_due       date,
    withdrawn_at          timestamptz,
    row_version           integer not null default 1,
    unique (organisation_id, name)
);

-- A file that was looked at but not yet submitted.
create table upload (
    id              uuid primary key,
    work_order_id   uuid not null references work_order,
    line_id         uuid not null references work_order_line,
    organisation_id uuid not null references organisation,
    stage           text not null,
    file_name       text not null,
    sha256          text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    size            bigint not null,
    on_behalf       boolean not null default false,
    uploaded_at     timestamptz not null,
    uploaded_by     uuid not null references person
);

-- Half-typed work of one person at one piece and stage.
create table draft (
    piece_id   uuid not null references piece,
    stage      text not null,
    person_id  uuid not null references person,
    body       jsonb not null,
    saved_at   timestamptz not null,
    primary key (person_id, piece_id, stage)
);

create table report (
    id              uuid primary key,
    owner_id        uuid not null references organisation,
    work_order_id   uuid not null,
    piece_id        uuid not null,
    revision_id     uuid not null references revision,
    organisation_id uuid not null references organisation,      -- who measured
    stage           text not null check (stage in ('cut', 'tack', 'as welded', 'as machined', 'before coat', 'after coat', 'receiving', 'installed')),
    source          text not null check (source in ('file', 'typed')),
    file_name       text,
    sha256          text,
    size            bigint,
    entry_key       uuid,                                       -- one typed page, however often its button is pressed
    on_behalf       boolean not null default false,
    note            text not null default '',
    submitted_at    timestamptz not null,
    submitted_by    uuid not null references person,
    verdict         text not null check (verdict in ('conforms', 'not proven', 'incomplete', 'does not conform')),
    value_count     integer not null check (value_count > 0),
    failed_count    integer not null,
    unproven_count  integer not null,
    missing         text[] not null default '{}',
    unique (id, work_order_id),
    unique (piece_id, stage, sha256),
    unique (entry_key),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id),
    check ((source = 'file') = (sha256 is not null)),
    check ((source = 'typed') = (entry_key is not null))
);
create index report_by_piece on report (piece_id, stage, submitted_at);
create index report_by_work_order on report (work_order_id);
alter table piece_step add foreign key (report_id) references report (id);
alter table attachment add foreign key (report_id) references report (id);

create table measured_value (
    report_id            uuid not null,
    work_order_id        uuid not null,
    characteristic_id    uuid not null references characteristic,
    instance             smallint not null check (instance between 1 and 999),
    value                numeric,                -- millimetres or arc-seconds; attributes: 1 go, 0 no go
    unit                 text not null,          -- as typed
    typed                text not null,          -- as typed
    expanded_uncertainty numeric check (expanded_uncertainty >= 0),
    instrument           text not null default '',
    note                 text not null default '',
    verdict              text not null check (verdict in ('conforms', 'not proven', 'does not conform')),
    off_by               numeric,
    primary key (report_id, characteristic_id, instance),
    foreign key (report_id, work_order_id) references report (id, work_order_id)
);

create table nonconformance (
    id                  uuid primary key,
    owner_id            uuid not null references organisation,
    work_order_id       uuid not null,
    piece_id            uuid not null,
    report_id           uuid not null references report,
    stage               text not null,
    number              text not null,
    opened_at           timestamptz not null,
    opened_by           uuid not null references person,
    disposition         text check (disposition in ('rework', 'repair', 'use as is', 'remake', 'scrap')),
    disposition_reason  text,
    disposed_at         timestamptz,
    disposed_by         uuid references person,
    closed_at           timestamptz,
    closed_by           uuid references person,
    closed_by_report_id uuid references report,
    row_version         integer not null default 1,
    unique (owner_id, number),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id),
    check ((disposed_at is null) = (disposition is null))
);
-- One open nonconformance per piece and stage: a second failing report joins it.
create unique index nonconformance_open on nonconformance (piece_id, stage) where closed_at is null;
create index nonconformance_by_work_order on nonconformance (work_order_id);

create table concession (
    id                uuid primary key,
    owner_id          uuid not null references organisation,
    work_order_id     uuid not null references work_order,
    nonconformance_id uuid references nonconformance,
    reason            text not null check (reason <> ''),
    valid_until       date,
    granted_at        timestamptz not null,
    granted_by        uuid not null references person,
    unique (id, work_order_id)
);
create table concession_piece (
    concession_id uuid not null,
    piece_id      uuid not null,
    work_order_id uuid not null,
    primary key (concession_id, piece_id),
    foreign key (concession_id, work_order_id) references concession (id, work_order_id),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id)
);

-- The next step cannot start before, by any path: the database holds the route itself.
create function route_holds() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare before record; g record; held text;
begin
    select * into g from route_step where id = new.route_step_id;
    if new.started_at is not null and old.started_at is null then
        -- Starting waits for every transaction that touches this piece.
        perform pg_advisory_xact_lock(hashtextextended(new.piece_id::text, 0));
        for before in
            select s.*, r.gate, r.notice_hours, r.kind from piece_step s join route_step r on r.id = s.route_step_id
            where s.piece_id = new.piece_id and s.ordinal < new.ordinal order by s.ordinal
        loop
            if before.finished_at is null then
                raise exception 'step % (%) is not finished', before.ordinal, before.kind using errcode = 'FL002';
            end if;
            if before.gate = 'hold' and before.opened_at is null then
                raise exception 'held at step % (%)', before.ordinal, before.kind using errcode = 'FL003';
            end if;
            if before.gate = 'witness' and before.opened_at is null then
                raise exception 'a witness is invited at step % (%)', before.ordinal, before.kind using errcode = 'FL004';
            end if;
        end loop;
        select number into held from nonconformance where piece_id = new.piece_id and closed_at is null limit 1;
        if held is not null then
            raise exception 'nonconformance % is open', held using errcode = 'FL005';
        end if;
    end if;
    if new.opened_at is not null and old.opened_at is null then
        if g.gate = 'none' then
            raise exception 'step % has no gate', new.ordinal using errcode = 'FL006';
        end if;
        if new.opened_how = 'report' and (g.opens_by is distinct from 'report' or not exists (
                select 1 from report where id = new.report_id and piece_id = new.piece_id and stage = g.stage and verdict = 'conforms')) then
            raise exception 'only a conforming report at stage % opens step %', g.stage, new.ordinal using errcode = 'FL006';
        end if;
        if new.opened_how in ('person', 'concession') and actor_organisation() is distinct from new.owner_id then
            raise exception 'only the build shop releases a hold' using errcode = 'FL006';
        end if;
        if new.opened_how = 'notice time over' and (g.gate <> 'witness' or new.asked_at is null
                or new.opened_at < new.asked_at + make_interval(hours => g.notice_hours)) then
            raise exception 'the notice time is not over' using errcode = 'FL006';
        end if;
    end if;
    return new;
end $$;
create trigger route_holds before update on piece_step for each row execute function route_holds();
-- A piece starts its life with nothing done.
create function nothing_done_yet() returns trigger language plpgsql as $$
begin
    if new.started_at is not null or new.finished_at is not null or new.opened_at is not null then
        raise exception 'a new step has not begun' using errcode = 'FL002';
    end if;
    return new;
end $$;
create trigger nothing_done_yet before insert on piece_step for each row execute function nothing_done_yet();
