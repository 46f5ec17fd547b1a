-- Between a report (of the piece or of its mate), a survey or a change of the build and the look at the joints lies a moment. Pages say so, by the same rule
-- by which nothing that was measured goes on in it; a look that fails again and again holds nobody.
create function being_looked_at(p_piece uuid) returns boolean
    language sql stable security definer set search_path = public, pg_temp as $$
    select exists (select 1 from report r where r.piece_id = p_piece) and exists (
        select 1 from outbox x
             join piece q on q.id = p_piece join work_order_line l on l.id = q.line_id cross join lateral pieces_in_place(l.build_id) p
             join joint j on j.build_id = l.build_id and j.removed_at is null
                  and ((j.part_id = p.part_id and j.place = p.place) or (j.mate_part_id = p.part_id and j.mate_place = p.place))
        where x.done_at is null and x.tries < 5 and p.piece_id = p_piece
          and (x.kind = 're-check a joint' and x.subject_id = j.id
               or x.kind = 're-check a build' and x.subject_id = j.build_id
               or x.kind = 're-check a report' and exists (
                   select 1 from report r join piece o on o.id = r.piece_id join work_order_line m on m.id = o.line_id
                   where r.id = x.subject_id and m.build_id = j.build_id and o.part_id in (j.part_id, j.mate_part_id))))
$$;

-- The same of a joint: the build, the joint itself, or a piece of either side.
create function joint_being_looked_at(p_joint uuid) returns boolean
    language sql stable security definer set search_path = public, pg_temp as $$
    select exists (select 1 from joint j join outbox x on x.done_at is null and x.tries < 5
                   where j.id = p_joint and j.owner_id = actor_organisation()
                     and (x.kind = 're-check a joint' and x.subject_id = j.id
                          or x.kind = 're-check a build' and x.subject_id = j.build_id
                          or x.kind = 're-check a report' and exists (
                              select 1 from report r join piece q on q.id = r.piece_id join work_order_line l on l.id = q.line_id
                              where r.id = x.subject_id and l.build_id = j.build_id and q.part_id in (j.part_id, j.mate_part_id))))
$$;

create or replace function joint_holds() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare held text;
begin
    if new.started_at is not null and old.started_at is null then
        select j.name into held from joint_hold h join joint j on j.id = h.joint_id
        where h.piece_id = new.piece_id and h.lifted_at is null and j.removed_at is null limit 1;
        if held is not null then
            raise exception 'joint % does not bolt up', held using errcode = 'FL012';
        end if;
        if being_looked_at(new.piece_id) then
            raise exception 'a joint of this piece is being looked at' using errcode = 'FL013';
        end if;
    end if;
    return new;
end $$;

revoke execute on function being_looked_at(uuid), joint_being_looked_at(uuid) from public;
grant execute on function being_looked_at(uuid), joint_being_looked_at(uuid) to fablink_app;
