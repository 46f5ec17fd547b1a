-- Parts, their drawings and revisions, and what is required of them.

create table build (
    id          uuid primary key,
    owner_id    uuid not null references organisation,
    number      text not null check (number <> ''),
    name        text not null,
    created_at  timestamptz not null,
    created_by  uuid not null references person,
    unique (owner_id, number)
);

create table part (
    id          uuid primary key,
    owner_id    uuid not null references organisation,
    number      text not null check (number <> ''),
    name        text not null check (name <> ''),
    hand        text check (hand in ('left', 'right')),
    created_at  timestamptz not null,
    created_by  uuid not null references person,
    row_version integer not null default 1,
    unique (owner_id, number)
);

create table drawing (
    id          uuid primary key,
    owner_id    uuid not null references organisation,
    part_id     uuid not null references part,
    number      text not null check (number <> ''),
    title       text not null,
    created_at  timestamptz not null,
    created_by  uuid not null references person,
    row_version integer not null default 1,
    unique (owner_id, number)
);
create index drawing_by_part on drawing (part_id);

create table revision (
    id                uuid primary key,
    owner_id          uuid not null references organisation,
    drawing_id        uuid not null references drawing,
    part_id           uuid not null references part,
    letter            text not null check (letter ~ '^[A-HJ-NPRT-WY]{1,2}$'),   -- ASME Y14.35: I O Q S X Z are skipped
    unit              text not null default 'mm' check (unit in ('mm', 'in')),
    general_tolerance text,
    welded            boolean not null,
    note              text not null default '',
    created_at        timestamptz not null,
    created_by        uuid not null references person,
    released_at       timestamptz,
    released_by       uuid references person,
    row_version       integer not null default 1,
    unique (drawing_id, letter),
    check ((released_at is null) = (released_by is null))
);
create index revision_by_part on revision (part_id);

create table revision_file (
    id          uuid primary key,
    owner_id    uuid not null references organisation,
    revision_id uuid not null references revision,
    purpose     text not null check (purpose in ('drawing', 'model', 'flat pattern', 'mask map', 'photo', 'other')),
    name        text not null check (name <> ''),
    file_type   text not null,
    sha256      text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    size        bigint not null check (size > 0),
    added_at    timestamptz not null,
    added_by    uuid not null references person,
    unique (revision_id, sha256, name)
);

create table characteristic (
    id           uuid primary key,
    owner_id     uuid not null references organisation,
    revision_id  uuid not null references revision,
    balloon      integer not null check (balloon between 1 and 9999),
    kind         text not null check (kind in ('length', 'diameter', 'radius', 'angle', 'position', 'form', 'orientation', 'profile',
                                               'run-out', 'film', 'attribute', 'text')),
    name         text not null default '',
    requirement  text not null check (requirement <> ''),       -- as written on the drawing
    unit         text not null check (unit in ('mm', 'µm', 'in', 'mil', 'deg', 'dms', 'rad', 'none')),
    nominal      numeric,                                       -- millimetres or arc-seconds
    lower_limit  numeric,
    upper_limit  numeric,
    limits_from  text not null,                                 -- 'stated', or the general tolerance or fit they were looked up in
    datums       text not null default '',
    class        text not null check (class in ('critical', 'major', 'minor')),
    stages       text[] not null check (cardinality(stages) > 0 and stages <@ array[
                     'cut', 'tack', 'as welded', 'as machined', 'before coat', 'after coat', 'receiving', 'installed']),
    applies      text not null check (applies in ('before coating', 'after coating')),
    count        integer not null default 1 check (count between 1 and 999),
    rule         text not null check (rule in ('simple', 'guarded', 'probability')),
    rounding     text check (rounding in ('absolute', 'rounding')),   -- ASTM E29, only where the requirement says so
    unique (revision_id, balloon),
    check (lower_limit is null or upper_limit is null or lower_limit <= upper_limit),
    check (kind in ('attribute', 'text') or lower_limit is not null or upper_limit is not null)
);

-- A released revision never changes, whoever writes.
create function released_is_final() returns trigger language plpgsql as $$
declare r uuid; released timestamptz;
begin
    if tg_table_name = 'revision' then
        if tg_op = 'DELETE' then released := old.released_at;
        else released := old.released_at; end if;
    else
        if tg_op = 'DELETE' then r := old.revision_id; else r := new.revision_id; end if;
        select released_at into released from revision where id = r for key share;
        if tg_op = 'UPDATE' and released is null and old.revision_id <> new.revision_id then
            raise exception 'a characteristic or file stays with its revision' using errcode = 'FL001';
        end if;
    end if;
    if released is not null then
        raise exception 'a released revision never changes' using errcode = 'FL001';
    end if;
    if tg_op = 'DELETE' then return old; end if;
    return new;
end $$;
create trigger released_is_final before update or delete on revision for each row execute function released_is_final();
create trigger released_is_final before insert or update or delete on characteristic for each row execute function released_is_final();
create trigger released_is_final before insert or update or delete on revision_file for each row execute function released_is_final();
