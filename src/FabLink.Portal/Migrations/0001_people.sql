-- Who is here. Roles of the database (fablink_app, fablink_jobs, fablink_signin) are made by the Migrator before this runs;
-- the tables belong to whoever migrates, and none of the three owns or bypasses anything.

create extension if not exists pgcrypto;

-- The actor of a transaction. After SET LOCAL ends the setting is '' and not NULL, hence nullif.
create function actor_person() returns uuid language sql stable parallel safe
    as $$ select nullif(current_setting('fablink.person', true), '')::uuid $$;
create function actor_organisation() returns uuid language sql stable parallel safe
    as $$ select nullif(current_setting('fablink.organisation', true), '')::uuid $$;

create table organisation (
    id          uuid primary key,
    name        text not null unique check (name <> ''),
    kind        text not null check (kind in ('build shop', 'fabricator', 'coater')),
    created_at  timestamptz not null
);

-- Which outside shops a build shop works with; a shop never learns of its rivals.
create table supplier (
    owner_id        uuid not null references organisation,
    organisation_id uuid not null references organisation,
    primary key (owner_id, organisation_id),
    check (owner_id <> organisation_id)
);
create index supplier_by_organisation on supplier (organisation_id);

create table person (
    id              uuid primary key,
    organisation_id uuid not null references organisation,
    name            text not null check (name <> ''),
    roles           text[] not null check (roles <@ array['engineer', 'buyer', 'fabricator', 'coater']),
    created_at      timestamptz not null,
    left_at         timestamptz
);
create index person_by_organisation on person (organisation_id);

-- How a person proves to be that person. Only sign-in and the jobs (for addresses) see it, and one's own organisation sees addresses.
create table credential (
    person_id           uuid primary key references person,
    organisation_id     uuid not null references organisation,
    email               text not null check (email = lower(email) and email like '%_@_%'),
    password_hash       text,
    security_stamp      text not null,
    access_failed_count integer not null default 0,
    lockout_end         timestamptz,
    unique (email)
);

create table sign_in_link (
    token_hash  bytea primary key,
    person_id   uuid not null references person,
    path        text not null check (path like '/%' and path not like '//%'),
    created_at  timestamptz not null,
    expires_at  timestamptz not null,
    used_at     timestamptz
);
create index sign_in_link_by_person on sign_in_link (person_id);

create table data_protection_key (
    friendly_name text primary key,
    xml           text not null,
    created_at    timestamptz not null default now()
);

-- Running numbers of an organisation: work orders, serials of a part, nonconformances, packing slips.
create table counter (
    owner_id uuid not null references organisation,
    name     text not null,
    value    integer not null check (value > 0),
    primary key (owner_id, name)
);

-- Who takes part in what: the one narrow table that every policy asks.
-- subject: a work order (owner, shop), a line (process), a part, drawing or revision (shop, process).
create table party (
    organisation_id uuid not null references organisation,
    relation        text not null check (relation in ('owner', 'shop', 'process')),
    subject_id      uuid not null,
    work_order_id   uuid not null,
    primary key (organisation_id, relation, subject_id, work_order_id)
);
create index party_by_work_order on party (work_order_id, organisation_id);

-- Organisations that the actor may know by name: its own, its suppliers and customers, and those on a shared work order.
create function known_organisations() returns setof uuid language sql stable security definer set search_path = public, pg_temp
    as $$
        select actor_organisation()
        union select organisation_id from supplier where owner_id = actor_organisation()
        union select owner_id from supplier where organisation_id = actor_organisation()
        union select other.organisation_id
              from party mine join party other on other.work_order_id = mine.work_order_id
              where mine.organisation_id = actor_organisation() and mine.relation in ('owner', 'shop')
    $$;
