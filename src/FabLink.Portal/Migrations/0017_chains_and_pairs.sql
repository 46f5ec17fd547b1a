-- Chains of a build: dimensions of several parts that close on one; and matched pairs across pieces.

create table chain (
    id                uuid primary key,
    owner_id          uuid not null references organisation,
    build_id          uuid not null references build,
    name              text not null check (name <> ''),
    closing           text not null check (closing <> ''),             -- the closing dimension, as a person names it
    required_lower_mm numeric,
    required_upper_mm numeric,
    required_yield    numeric not null check (required_yield > 0 and required_yield <= 1),
    seed              bigint not null,
    created_at        timestamptz not null,
    created_by        uuid not null references person,
    removed_at        timestamptz,
    removed_by        uuid references person,
    row_version       integer not null default 1,
    check (num_nonnulls(required_lower_mm, required_upper_mm) > 0),
    check (required_lower_mm <= required_upper_mm),
    check ((removed_at is null) = (removed_by is null))
);
create unique index chain_name on chain (build_id, name) where removed_at is null;

-- Where the value of a link comes from is exactly one of: a characteristic of a piece in its place, a surveyed coordinate or distance, a number.
create table chain_link (
    chain_id     uuid not null references chain,
    owner_id     uuid not null references organisation,
    ordinal      integer not null check (ordinal between 1 and 100),
    name         text not null check (name <> ''),
    sensitivity  numeric not null check (sensitivity <> 0),            -- closing mm per mm of the link, or per degree
    distribution text not null check (distribution in ('normal', 'uniform', 'triangular')),
    source       text not null check (source in ('characteristic', 'survey', 'number')),
    part_id      uuid references part,
    place        integer check (place between 1 and 500),              -- the how-manieth piece of this part in the build
    balloon      integer check (balloon between 1 and 9999),
    instance     integer check (instance between 1 and 999),
    survey_id    uuid references survey,
    point        text check (point <> ''),
    other_point  text check (other_point <> ''),
    axis         text check (axis in ('x', 'y', 'z', 'distance')),
    nominal_mm   numeric,                                              -- of a number; of a survey what the model says, if it says
    lower_mm     numeric,                                              -- deviations
    upper_mm     numeric,
    primary key (chain_id, ordinal),
    unique (chain_id, name),
    check (num_nonnulls(part_id, place, balloon, instance) = case source when 'characteristic' then 4 else 0 end),
    check (num_nonnulls(survey_id, point, axis) = case source when 'survey' then 3 else 0 end),
    check (other_point is null or source = 'survey'),
    check (axis is distinct from 'distance' or other_point is not null),
    check (num_nonnulls(nominal_mm, lower_mm, upper_mm) = case source when 'number' then 3 when 'characteristic' then 0 else num_nonnulls(nominal_mm, lower_mm, upper_mm) end),
    check (num_nonnulls(nominal_mm, lower_mm, upper_mm) in (0, 3)),
    check (lower_mm <= upper_mm)
);
create index chain_link_by_part on chain_link (part_id, place);

-- How a chain stood each time something of it changed. The newest stands.
create table chain_check (
    id           uuid primary key,
    chain_id     uuid not null references chain,
    owner_id     uuid not null references organisation,
    ordinal      integer not null check (ordinal > 0),
    checked_at   timestamptz not null,
    report_id    uuid references report,                               -- null: the build itself was changed
    form         text not null check (form in ('as drawn', 'as built so far', 'as built')),
    verdict      text not null check (verdict in ('closes', 'yield too low', 'not known')),
    yield        numeric check (yield between 0 and 1),
    answer       jsonb not null,
    unique (chain_id, ordinal),
    check ((verdict = 'not known') = (yield is null))
);

-- Two characteristics, usually of a left and a right part, that must agree with each other.
create table pair (
    id             uuid primary key,
    owner_id       uuid not null references organisation,
    build_id       uuid not null references build,
    name           text not null check (name <> ''),
    left_part_id   uuid not null references part,
    left_place     integer not null check (left_place between 1 and 500),
    left_balloon   integer not null check (left_balloon between 1 and 9999),
    left_instance  integer not null check (left_instance between 1 and 999),
    right_part_id  uuid not null references part,
    right_place    integer not null check (right_place between 1 and 500),
    right_balloon  integer not null check (right_balloon between 1 and 9999),
    right_instance integer not null check (right_instance between 1 and 999),
    within         numeric not null check (within > 0),                -- mm, or arc-seconds
    unit           text not null check (unit in ('mm', 'deg')),
    rule           text not null check (rule in ('simple', 'guarded')),
    created_at     timestamptz not null,
    created_by     uuid not null references person,
    removed_at     timestamptz,
    removed_by     uuid references person,
    row_version    integer not null default 1,
    check ((left_part_id, left_place, left_balloon, left_instance) is distinct from (right_part_id, right_place, right_balloon, right_instance)),
    check ((removed_at is null) = (removed_by is null))
);
create unique index pair_name on pair (build_id, name) where removed_at is null;
create index pair_by_left on pair (left_part_id, left_place);
create index pair_by_right on pair (right_part_id, right_place);

-- How a pair was judged, each time one of its two values changed; carries all that a shop which makes both pieces may see.
create table pair_check (
    id                  uuid primary key,
    pair_id             uuid not null references pair,
    owner_id            uuid not null references organisation,
    ordinal             integer not null check (ordinal > 0),
    checked_at          timestamptz not null,
    report_id           uuid references report,
    name                text not null,
    unit                text not null,
    within              numeric not null,
    left_piece_id       uuid not null,
    left_work_order_id  uuid not null,
    left_value          numeric not null,
    right_piece_id      uuid not null,
    right_work_order_id uuid not null,
    right_value         numeric not null,
    expanded_uncertainty numeric,                                      -- of the difference
    verdict             text not null check (verdict in ('conforms', 'not proven', 'does not conform', 'taken out')),
    unique (pair_id, ordinal),
    foreign key (left_piece_id, left_work_order_id) references piece (id, work_order_id),
    foreign key (right_piece_id, right_work_order_id) references piece (id, work_order_id)
);
create index pair_check_by_left on pair_check (left_piece_id);
create index pair_check_by_right on pair_check (right_piece_id);

-- The record of a shop at tack is asked for its newest reports.
create index report_at_tack on report (owner_id, submitted_at desc) where stage = 'tack';

do $$ declare t text; begin
    foreach t in array array['chain', 'chain_link', 'chain_check', 'pair', 'pair_check'] loop
        execute format('alter table %I enable row level security', t);
        execute format('revoke all on %I from public', t);
    end loop;
    foreach t in array array['chain', 'chain_link', 'pair'] loop
        execute format('create trigger write_audit after insert or update or delete on %I for each row execute function write_audit()', t);
    end loop;
    foreach t in array array['chain_check', 'pair_check'] loop
        execute format('create trigger never_changes before update or delete or truncate on %I for each statement execute function never_changes()', t);
    end loop;
end $$;

grant select, insert, update on chain, pair to fablink_app;
grant select, insert, delete on chain_link to fablink_app;
grant select on chain_check, pair_check to fablink_app;
create policy own on chain to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation()) and exists (select 1 from build b where b.id = build_id and b.owner_id = (select actor_organisation())));
create policy own on chain_link to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation())
        and exists (select 1 from chain c where c.id = chain_id and c.owner_id = (select actor_organisation()))
        and (part_id is null or exists (select 1 from part p where p.id = part_id and p.owner_id = (select actor_organisation())))
        and (survey_id is null or exists (select 1 from survey s join chain c on c.build_id = s.build_id where s.id = survey_id and c.id = chain_id)));
create policy own on chain_check for select to fablink_app using (owner_id = (select actor_organisation()));
create policy own on pair to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation())
        and exists (select 1 from build b where b.id = build_id and b.owner_id = (select actor_organisation()))
        and exists (select 1 from part p where p.id = left_part_id and p.owner_id = (select actor_organisation()))
        and exists (select 1 from part p where p.id = right_part_id and p.owner_id = (select actor_organisation())));
-- Whoever sees both orders sees how their pieces agree; whoever makes one of them learns nothing of the other.
create policy see on pair_check for select to fablink_app
    using (left_work_order_id in (select my_orders()) and right_work_order_id in (select my_orders()));

grant select on chain, chain_link, pair to fablink_jobs;
grant select, insert on chain_check, pair_check to fablink_jobs;
do $$ declare t text; begin
    foreach t in array array['chain', 'chain_link', 'chain_check', 'pair', 'pair_check'] loop
        execute format('create policy jobs on %I to fablink_jobs using (true) with check (true)', t);
    end loop;
end $$;
