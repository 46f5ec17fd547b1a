-- Work orders: who makes how many of what, by which route, until when; and where each piece is.

create table work_order (
    id                    uuid primary key,
    owner_id              uuid not null references organisation,
    shop_id               uuid not null references organisation,
    number                text not null check (number <> ''),
    purchase_order_number text not null default '',
    note                  text not null default '',
    created_at            timestamptz not null,
    created_by            uuid not null references person,
    issued_at             timestamptz,
    issued_by             uuid references person,
    accepted_at           timestamptz,
    accepted_by           uuid references person,
    accepted_for          boolean not null default false,       -- done by the build shop on behalf of the shop
    declined_at           timestamptz,
    declined_by           uuid references person,
    decline_reason        text,
    closed_at             timestamptz,
    closed_by             uuid references person,
    row_version           integer not null default 1,
    unique (owner_id, number),
    check (owner_id <> shop_id),
    check ((issued_at is null) = (issued_by is null)),
    check (accepted_at is null or (issued_at is not null and declined_at is null)),
    check ((declined_at is null) = (decline_reason is null))
);
create index work_order_by_shop on work_order (shop_id);

create table work_order_line (
    id            uuid primary key,
    work_order_id uuid not null references work_order,
    ordinal       integer not null check (ordinal > 0),
    revision_id   uuid not null references revision,
    build_id      uuid not null references build,
    quantity      integer not null check (quantity between 1 and 500),
    need_date     date not null,
    note          text not null default '',
    unique (work_order_id, ordinal),
    unique (id, work_order_id)
);
create index work_order_line_by_revision on work_order_line (revision_id);

create table route_step (
    id              uuid primary key,
    line_id         uuid not null,
    work_order_id   uuid not null,
    ordinal         integer not null check (ordinal > 0),
    kind            text not null check (kind in ('cut', 'fit and tack', 'weld', 'stress relieve', 'machine', 'inspect', 'blast',
                                                  'powder coat', 'ship', 'receive', 'install')),
    organisation_id uuid not null references organisation,
    stage           text check (stage in ('cut', 'tack', 'as welded', 'as machined', 'before coat', 'after coat', 'receiving', 'installed')),
    gate            text not null default 'none' check (gate in ('none', 'hold', 'witness')),
    opens_by        text check (opens_by in ('report', 'person')),
    notice_hours    integer check (notice_hours between 1 and 240),
    planned_days    integer not null default 1 check (planned_days between 0 and 120),
    unique (line_id, ordinal),
    foreign key (line_id, work_order_id) references work_order_line (id, work_order_id),
    check ((gate = 'hold') = (opens_by is not null)),
    check ((gate = 'witness') = (notice_hours is not null)),
    check (opens_by is distinct from 'report' or stage is not null)
);

create table piece (
    id            uuid primary key,
    owner_id      uuid not null references organisation,
    work_order_id uuid not null,
    line_id       uuid not null,
    part_id       uuid not null references part,
    revision_id   uuid not null references revision,
    serial        text not null check (serial <> ''),
    created_at    timestamptz not null,
    unique (owner_id, serial),
    unique (id, work_order_id),
    foreign key (line_id, work_order_id) references work_order_line (id, work_order_id)
);
create index piece_by_line on piece (line_id);
create index piece_by_work_order on piece (work_order_id);

-- One step of the route of one piece. State is who and when, never a flag.
create table piece_step (
    id              uuid primary key,
    owner_id        uuid not null references organisation,
    work_order_id   uuid not null,
    line_id         uuid not null,
    piece_id        uuid not null,
    route_step_id   uuid not null references route_step,
    ordinal         integer not null,
    organisation_id uuid not null references organisation,
    started_at      timestamptz,
    started_by      uuid references person,
    finished_at     timestamptz,
    finished_by     uuid references person,
    on_behalf       boolean not null default false,
    asked_at        timestamptz,                 -- a witness was invited
    asked_by        uuid references person,
    opened_at       timestamptz,                 -- the gate after this step
    opened_by       uuid references person,
    opened_how      text check (opened_how in ('report', 'person', 'concession', 'notice time over')),
    opened_reason   text,
    report_id       uuid,
    row_version     integer not null default 1,
    unique (piece_id, ordinal),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id),
    check ((started_at is null) = (started_by is null)),
    check ((finished_at is null) = (finished_by is null)),
    check (finished_at is null or started_at is not null),
    check ((opened_at is null) = (opened_how is null)),
    check (opened_how is null or opened_how not in ('person', 'concession') or opened_reason is not null),
    check (opened_how is distinct from 'report' or report_id is not null)
);
create index piece_step_by_work_order on piece_step (work_order_id);
create index piece_step_by_organisation on piece_step (organisation_id) where finished_at is null;

create table promise (
    id            uuid primary key,
    work_order_id uuid not null,
    line_id       uuid not null,
    promised_date date not null,
    reason        text not null default '',
    made_at       timestamptz not null,
    made_by       uuid not null references person,
    on_behalf     boolean not null default false,
    foreign key (line_id, work_order_id) references work_order_line (id, work_order_id)
);
create index promise_by_line on promise (line_id, made_at desc);

create table question (
    id                uuid primary key,
    work_order_id     uuid not null references work_order,
    revision_id       uuid references revision,
    characteristic_id uuid references characteristic,
    body              text not null check (body <> ''),
    asked_at          timestamptz not null,
    asked_by          uuid not null references person,
    on_behalf         boolean not null default false,
    answer            text,
    answered_at       timestamptz,
    answered_by       uuid references person,
    row_version       integer not null default 1,
    check ((answered_at is null) = (answer is null) and (answered_at is null) = (answered_by is null))
);
create index question_by_work_order on question (work_order_id);

create table packing_slip (
    id            uuid primary key,
    work_order_id uuid not null references work_order,
    number        text not null check (number <> ''),
    note          text not null default '',
    shipped_at    timestamptz not null,
    shipped_by    uuid not null references person,
    on_behalf     boolean not null default false,
    unique (work_order_id, number),
    unique (id, work_order_id)
);
create table packing_slip_piece (
    packing_slip_id uuid not null,
    piece_id        uuid not null,
    work_order_id   uuid not null,
    primary key (packing_slip_id, piece_id),
    unique (piece_id),
    foreign key (packing_slip_id, work_order_id) references packing_slip (id, work_order_id),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id)
);

-- A photo, a print, a paper: evidence for something said on behalf of a shop, or simply kept with the order.
create table attachment (
    id              uuid primary key,
    work_order_id   uuid not null references work_order,
    piece_id        uuid references piece,
    report_id       uuid,
    organisation_id uuid not null references organisation,
    name            text not null check (name <> ''),
    file_type       text not null,
    sha256          text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    size            bigint not null check (size > 0),
    about           text not null default '',
    added_at        timestamptz not null,
    added_by        uuid not null references person
);
create index attachment_by_work_order on attachment (work_order_id);
