-- A position under a material modifier (ISO 2692) grows with the measured size of another balloon of the same revision.
alter table characteristic
    add column modifier     text check (modifier in ('M', 'L')),
    add column size_balloon integer check (size_balloon between 1 and 9999),
    add column size_of      text check (size_of in ('hole', 'pin')),
    add constraint modifier_names_a_size check ((modifier is null) = (size_balloon is null) and (modifier is null) = (size_of is null)),
    add constraint modifier_is_of_a_position check (modifier is null or kind = 'position'),
    add constraint modifier_is_of_another check (size_balloon <> balloon);

-- What the size added to the upper limit when the value was judged, millimetres.
alter table measured_value add column bonus numeric check (bonus >= 0);
