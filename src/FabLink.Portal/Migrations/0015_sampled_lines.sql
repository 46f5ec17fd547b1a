-- A line of several pieces may check its major or minor characteristics on a sample. Critical ones are checked on every piece: no row can say otherwise.

create table line_sampling (
    line_id          uuid not null,
    work_order_id    uuid not null,
    class            text not null check (class in ('major', 'minor')),
    method           text not null check (method in ('zero acceptance', 'ISO 2859-1')),
    plan             text not null check (plan <> ''),          -- in words, as it was chosen
    lot              integer not null check (lot between 2 and 500),
    sample_size      integer not null check (sample_size > 0),
    accept           integer not null check (accept >= 0),      -- so many nonconforming pieces of the sample are accepted
    seed             bigint not null,                           -- draws the pieces of the sample
    chosen_at        timestamptz not null,
    chosen_by        uuid not null references person,
    failed_at        timestamptz,                               -- from then on every piece of the line is checked
    failed_report_id uuid references report,
    primary key (line_id, class),
    foreign key (line_id, work_order_id) references work_order_line (id, work_order_id) on delete cascade,
    check (sample_size <= lot and accept < sample_size),
    check (method <> 'zero acceptance' or accept = 0),
    check ((failed_at is null) = (failed_report_id is null))
);

create table line_sample_piece (
    line_id       uuid not null,
    class         text not null,
    piece_id      uuid not null,
    work_order_id uuid not null,
    primary key (line_id, class, piece_id),
    foreign key (line_id, class) references line_sampling on delete cascade,
    foreign key (piece_id, work_order_id) references piece (id, work_order_id)
);
create index line_sample_piece_by_piece on line_sample_piece (piece_id);

-- What the shop accepted stays; only the result of the sample is written later, by the function below.
create function sampling_stays() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare o uuid;
begin
    if tg_op = 'DELETE' then o := old.work_order_id; else o := new.work_order_id; end if;
    if tg_op = 'UPDATE' and old.failed_at is null
       and to_jsonb(new) - array['failed_at', 'failed_report_id'] = to_jsonb(old) - array['failed_at', 'failed_report_id'] then
        return new;
    end if;
    if exists (select 1 from work_order where id = o and issued_at is not null) then
        raise exception 'an issued work order keeps its sampling' using errcode = 'FL008';
    end if;
    if tg_op = 'DELETE' then return old; end if;
    return new;
end $$;
create trigger sampling_stays before insert or update or delete on line_sampling for each row execute function sampling_stays();

alter table line_sampling enable row level security;
alter table line_sample_piece enable row level security;
revoke all on line_sampling, line_sample_piece from public;
grant select, insert, delete on line_sampling to fablink_app;
grant select, insert on line_sample_piece to fablink_app;
create policy see on line_sampling for select to fablink_app
    using (work_order_id in (select my_orders()) or line_id in (select my_process_subjects()));
create policy write on line_sampling to fablink_app
    using (work_order_id in (select my_own_orders()))
    with check (work_order_id in (select my_own_orders()) and failed_at is null
                and exists (select 1 from work_order_line l where l.id = line_id and l.quantity = lot));
create policy see on line_sample_piece for select to fablink_app
    using (work_order_id in (select my_orders()) or line_id in (select my_process_subjects()));
create policy write on line_sample_piece for insert to fablink_app
    with check (work_order_id in (select my_own_orders())
                and exists (select 1 from piece p where p.id = piece_id and p.line_id = line_sample_piece.line_id));

create trigger write_audit after insert or update or delete on line_sampling for each row execute function write_audit();
create trigger write_audit after insert on line_sample_piece for each row execute function write_audit();

-- After a report: does the sample of its piece's line accept no longer? Then every piece is checked, and gates that reports of
-- unsampled pieces opened shut again where nobody has gone on. Returns the classes that failed with this report.
create function judge_sample(p_report uuid, p_at timestamptz) returns setof text language plpgsql security definer set search_path = public, pg_temp as $$
declare plan line_sampling; line uuid;
begin
    select p.line_id into line from report r join piece p on p.id = r.piece_id where r.id = p_report and r.organisation_id = actor_organisation();
    if line is null then
        raise exception 'not a report of yours' using errcode = '42501';
    end if;
    for plan in select * from line_sampling where line_id = line and failed_at is null for update loop
        if (select count(distinct r.piece_id)
            from line_sample_piece m join report r on r.piece_id = m.piece_id join measured_value v on v.report_id = r.id
                 join characteristic c on c.id = v.characteristic_id
            where m.line_id = line and m.class = plan.class and c.class = plan.class and v.verdict = 'does not conform') > plan.accept then
            update line_sampling set failed_at = p_at, failed_report_id = p_report where line_id = line and class = plan.class;
            update piece_step s set opened_at = null, opened_by = null, opened_how = null, report_id = null, row_version = s.row_version + 1
            from route_step t
            where t.id = s.route_step_id and s.line_id = line and s.opened_how = 'report'
              and not exists (select 1 from line_sample_piece m where m.line_id = line and m.class = plan.class and m.piece_id = s.piece_id)
              and exists (select 1 from piece p join characteristic c on c.revision_id = p.revision_id
                          where p.id = s.piece_id and c.class = plan.class and t.stage = any (c.stages)
                            and not exists (select 1 from report r join measured_value v on v.report_id = r.id
                                            where r.piece_id = p.id and r.stage = t.stage and v.characteristic_id = c.id))
              and not exists (select 1 from piece_step later
                              where later.piece_id = s.piece_id and later.ordinal > s.ordinal and later.started_at is not null);
            return next plan.class;
        end if;
    end loop;
end $$;
revoke execute on function judge_sample(uuid, timestamptz), sampling_stays() from public;
grant execute on function judge_sample(uuid, timestamptz) to fablink_app;
