-- Whoever has a step at a stage measures there; where nobody has one, the shop of the order does. The build shop may everywhere, also for others.
create function measured_where_given() returns trigger language plpgsql security definer set search_path = public, pg_temp as $$
declare given uuid[]; p record;
begin
    if session_user <> 'fablink_app' then return new; end if;
    select owner_id, serial into p from piece where id = new.piece_id;
    if p.owner_id = actor_organisation() then return new; end if;
    select array_agg(s.organisation_id) into given from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = new.piece_id and r.stage = new.stage;
    if actor_organisation() <> all (given) then
        raise exception '% is measured at stage % by whoever has a step there', p.serial, new.stage using errcode = 'FL017';
    end if;
    return new;
end $$;
create trigger measured_where_given before insert on report for each row execute function measured_where_given();
revoke execute on function measured_where_given() from public;
