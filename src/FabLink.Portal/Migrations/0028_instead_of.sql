-- A piece that is made anew takes the place of one, of the same line; each has one successor at most.
alter table piece add unique (id, line_id);
alter table piece add column instead_of uuid unique;
alter table piece add foreign key (instead_of, line_id) references piece (id, line_id);
