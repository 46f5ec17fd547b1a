-- Hole patterns, surveys of the machine as found, and the joints of a build: what bolts to what, re-checked as measurements arrive.

-- Which hole of which pattern a characteristic locates, as written: "rails/3 x", "rails/1-10 diameter, M12, floating", "turn of pad, reach 640".
alter table characteristic add column locates text not null default '' check (length(locates) <= 120);

-- Holes and points measured on the machine before the parts were made. Written again as a whole when measured again; the audit keeps what stood.
create table survey (
    id          uuid primary key,
    owner_id    uuid not null references organisation,
    build_id    uuid not null references build,
    name        text not null check (name <> ''),
    instrument  text not null default '',
    note        text not null default '',
    file_name   text not null,
    sha256      text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    size        bigint not null check (size > 0),
    taken_at    timestamptz not null,
    taken_by    uuid not null references person,
    row_version integer not null default 1,
    unique (build_id, name)
);

create table survey_point (
    survey_id       uuid not null references survey,
    owner_id        uuid not null references organisation,
    ordinal         integer not null check (ordinal > 0),
    name            text not null check (name <> ''),
    x_mm            numeric not null,
    y_mm            numeric not null,
    z_mm            numeric,
    diameter_mm     numeric check (diameter_mm > 0),
    slot_length_mm  numeric check (slot_length_mm > 0),       -- over the ends
    slot_degrees    numeric,
    uncertainty_mm  numeric check (uncertainty_mm >= 0),      -- expanded, k = 2, of each coordinate
    note            text not null default '',
    primary key (survey_id, name),
    check ((slot_length_mm is null) = (slot_degrees is null)),
    check (slot_length_mm is null or (diameter_mm is not null and slot_length_mm >= diameter_mm))
);

-- A pattern of a part in its place, with a pattern of another part or with a survey.
create table joint (
    id                uuid primary key,
    owner_id          uuid not null references organisation,
    build_id          uuid not null references build,
    name              text not null check (name <> ''),
    part_id           uuid not null references part,
    pattern           text not null check (pattern <> ''),
    place             integer not null default 1 check (place between 1 and 500),   -- the how-manieth piece of this part in the build
    film_mm           numeric not null default 0 check (film_mm between 0 and 5),
    mate_part_id      uuid references part,
    mate_pattern      text check (mate_pattern <> ''),
    mate_place        integer check (mate_place between 1 and 500),
    mate_survey_id    uuid references survey,
    mate_film_mm      numeric not null default 0 check (mate_film_mm between 0 and 5),
    wanted_margin_mm  numeric not null default 0.1 check (wanted_margin_mm between 0 and 100),
    rotation_limit_degrees numeric not null default 180 check (rotation_limit_degrees between 0 and 180),
    created_at        timestamptz not null,
    created_by        uuid not null references person,
    removed_at        timestamptz,
    removed_by        uuid references person,
    row_version       integer not null default 1,
    unique (build_id, name),
    check (num_nonnulls(mate_part_id, mate_survey_id) = 1),
    check (num_nonnulls(mate_part_id, mate_pattern, mate_place) in (0, 3)),
    check ((removed_at is null) = (removed_by is null))
);
create index joint_by_part on joint (part_id);
create index joint_by_mate on joint (mate_part_id);
create index joint_by_survey on joint (mate_survey_id);

-- How a joint stood each time it was looked at. The newest stands.
create table joint_check (
    id           uuid primary key,
    joint_id     uuid not null references joint,
    owner_id     uuid not null references organisation,
    ordinal      integer not null check (ordinal > 0),
    checked_at   timestamptz not null,
    because      text not null,
    report_id    uuid references report,
    form         text not null check (form in ('as drawn', 'as built so far', 'as built')),
    verdict      text not null check (verdict in ('bolts up', 'does not bolt up', 'not known')),
    why          text not null default '',
    margin_mm    numeric,
    measured     integer not null,
    holes        integer not null,
    probability  numeric check (probability between 0 and 1),
    milliseconds numeric not null,
    answer       jsonb not null,
    unique (joint_id, ordinal),
    check ((verdict = 'not known') = (margin_mm is null))
);

-- What a shop is told about its own piece in a joint: only that piece's side.
create table correction (
    id            uuid primary key,
    check_id      uuid not null references joint_check,
    joint_id      uuid not null references joint,
    owner_id      uuid not null references organisation,
    work_order_id uuid not null,
    piece_id      uuid not null,
    made_at       timestamptz not null,
    verdict       text not null check (verdict in ('bolts up', 'does not bolt up', 'not known')),
    margin_mm     numeric,
    body          jsonb not null,
    unique (check_id, piece_id),
    foreign key (piece_id, work_order_id) references piece (id, work_order_id)
);
create index correction_by_piece on correction (piece_id, made_at desc);

-- A piece waits because a joint that it belongs to does not bolt up. Lifted by a check that does, or by an engineer with a reason.
create table joint_hold (
    id            uuid primary key,
    joint_id      uuid not null references joint,
    owner_id      uuid not null references organisation,
    work_order_id uuid not null,
    piece_id      uuid not null,
    raised_at     timestamptz not null,
    raised_check  uuid not null references joint_check,
    lifted_at     timestamptz,
    lifted_by     uuid references person,
    lifted_check  uuid references joint_check,
    reason        text,
    foreign key (piece_id, work_order_id) references piece (id, work_order_id),
    check ((lifted_at is null) = (lifted_by is null and lifted_check is null)),
    check (lifted_by is null or reason is not null)
);
create unique index joint_hold_open on joint_hold (joint_id, piece_id) where lifted_at is null;
create index joint_hold_by_piece on joint_hold (piece_id) where lifted_at is null;

-- The next step does not start while a joint of the piece does not bolt up, by any path.
create function joint_holds() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare held text;
begin
    if new.started_at is not null and old.started_at is null then
        select j.name into held from joint_hold h join joint j on j.id = h.joint_id
        where h.piece_id = new.piece_id and h.lifted_at is null and j.removed_at is null limit 1;
        if held is not null then
            raise exception 'joint % does not bolt up', held using errcode = 'FL012';
        end if;
        -- Between a report and the look at its joints lies a moment; whoever starts in it waits. A look that fails again and again holds nobody.
        if exists (select 1 from report r join outbox x on x.subject_id = r.id
                   where r.piece_id = new.piece_id and x.kind = 're-check a report' and x.done_at is null and x.tries < 5)
           and exists (select 1 from work_order_line l cross join lateral pieces_in_place(l.build_id) p
                       join joint j on j.build_id = l.build_id and j.removed_at is null
                            and ((j.part_id = p.part_id and j.place = p.place) or (j.mate_part_id = p.part_id and j.mate_place = p.place))
                       where l.id = new.line_id and p.piece_id = new.piece_id) then
            raise exception 'a joint of this piece is being looked at' using errcode = 'FL013';
        end if;
    end if;
    return new;
end $$;
create trigger joint_holds before update on piece_step for each row execute function joint_holds();

-- Which part and which place a piece of a build stands in: the pieces of one part by their serials, those remade or scrapped left out.
create function pieces_in_place(p_build uuid)
    returns table (piece_id uuid, serial text, part_id uuid, revision_id uuid, line_id uuid, work_order_id uuid, place integer)
    language sql stable as $$
    select p.id, p.serial, p.part_id, p.revision_id, p.line_id, p.work_order_id,
           (row_number() over (partition by p.part_id order by p.serial))::integer
    from piece p join work_order_line l on l.id = p.line_id
    where l.build_id = p_build
      and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('remake', 'scrap'))
$$;

-- Joints are looked at again after the commit, by a job: a report came, or the build itself was changed.
alter table outbox drop constraint outbox_kind_check;
alter table outbox add constraint outbox_kind_check
    check (kind in ('mail a notice', 'mail a sign-in link', 're-check a report', 're-check a joint', 're-check a build'));

create function ask_recheck(p_kind text, p_subject uuid, p_at timestamptz) returns void
    language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if p_kind = 're-check a report' then
        if not exists (select 1 from report r where r.id = p_subject
                and (r.organisation_id = actor_organisation() or r.work_order_id in (select my_orders()))) then
            raise exception 'not a report of yours' using errcode = '42501';
        end if;
    elsif p_kind = 're-check a joint' then
        if not exists (select 1 from joint where id = p_subject and owner_id = actor_organisation()) then
            raise exception 'not a joint of yours' using errcode = '42501';
        end if;
    elsif not exists (select 1 from build where id = p_subject and owner_id = actor_organisation()) then
        raise exception 'not a build of yours' using errcode = '42501';
    end if;
    insert into outbox (id, kind, subject_id, created_at, next_try_at, message_id)
    values (gen_random_uuid(), p_kind, p_subject, p_at, p_at, gen_random_uuid()::text);
end $$;

do $$ declare t text; begin
    foreach t in array array['survey', 'survey_point', 'joint', 'joint_check', 'correction', 'joint_hold'] loop
        execute format('alter table %I enable row level security', t);
        execute format('revoke all on %I from public', t);
    end loop;
    foreach t in array array['survey', 'survey_point', 'joint', 'joint_hold'] loop
        execute format('create trigger write_audit after insert or update or delete on %I for each row execute function write_audit()', t);
    end loop;
    foreach t in array array['joint_check', 'correction'] loop
        execute format('create trigger never_changes before update or delete or truncate on %I for each statement execute function never_changes()', t);
    end loop;
end $$;
revoke execute on function joint_holds(), pieces_in_place(uuid), ask_recheck(text, uuid, timestamptz) from public;
grant execute on function pieces_in_place(uuid) to fablink_app, fablink_jobs;
grant execute on function ask_recheck(text, uuid, timestamptz) to fablink_app;

grant select, insert, update on survey, joint to fablink_app;
grant select, insert, delete on survey_point to fablink_app;
grant select on joint_check, correction to fablink_app;
grant select, update (lifted_at, lifted_by, reason) on joint_hold to fablink_app;
create policy own on survey to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation()) and exists (select 1 from build b where b.id = build_id and b.owner_id = (select actor_organisation())));
create policy own on survey_point to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation()) and exists (select 1 from survey s where s.id = survey_id and s.owner_id = (select actor_organisation())));
create policy own on joint to fablink_app
    using (owner_id = (select actor_organisation()))
    with check (owner_id = (select actor_organisation())
        and exists (select 1 from build b where b.id = build_id and b.owner_id = (select actor_organisation()))
        and exists (select 1 from part p where p.id = part_id and p.owner_id = (select actor_organisation()))
        and (mate_part_id is null or exists (select 1 from part p where p.id = mate_part_id and p.owner_id = (select actor_organisation())))
        and (mate_survey_id is null or exists (select 1 from survey s where s.id = mate_survey_id and s.build_id = joint.build_id)));
create policy own on joint_check for select to fablink_app using (owner_id = (select actor_organisation()));
create policy see on correction for select to fablink_app using (work_order_id in (select my_orders()));
create policy see on joint_hold for select to fablink_app using (work_order_id in (select my_orders()));
create policy lift on joint_hold for update to fablink_app
    using (owner_id = (select actor_organisation()) and lifted_at is null)
    with check (owner_id = (select actor_organisation()) and lifted_by = (select actor_person()) and lifted_at is not null);

-- The job that re-checks reads what was drawn, measured and surveyed, and writes what it found.
grant select on characteristic, revision, measured_value, survey, survey_point, joint, organisation to fablink_jobs;
grant select, insert on joint_check, correction, joint_hold to fablink_jobs;
grant update on joint_hold to fablink_jobs;
do $$ declare t text; begin
    foreach t in array array['characteristic', 'revision', 'measured_value', 'survey', 'survey_point', 'joint', 'joint_check', 'correction', 'joint_hold'] loop
        execute format('create policy jobs on %I to fablink_jobs using (true) with check (true)', t);
    end loop;
end $$;
