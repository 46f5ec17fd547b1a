-- Whoever may see a revision may know that a newer one was released, though not what it says: old prints are withdrawn by word.
create function newer_revision(p_revision uuid) returns table (letter text, released_at timestamptz)
    language sql stable security definer set search_path = public, pg_temp
    as $$
        select newer.letter, newer.released_at
        from revision this join revision newer on newer.drawing_id = this.drawing_id
        where this.id = p_revision and newer.released_at is not null
          and (length(newer.letter), newer.letter) > (length(this.letter), this.letter)
          and (this.owner_id = actor_organisation()
               or exists (select 1 from party where organisation_id = actor_organisation() and subject_id = this.id))
        order by length(newer.letter) desc, newer.letter desc limit 1
    $$;
revoke execute on function newer_revision(uuid) from public;
grant execute on function newer_revision(uuid) to fablink_app;
