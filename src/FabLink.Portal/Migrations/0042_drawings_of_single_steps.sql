-- A fabricator that has only a step of the route - it welds, bends or machines - works from the drawing; a coater needs the masking and nothing else.
alter policy shared on revision_file
    using (revision_id in (select my_subjects())
           and (purpose = 'mask map' or (select actor_kind()) = 'fabricator'
                or revision_id in (select subject_id from party where organisation_id = (select actor_organisation()) and relation = 'shop')));
