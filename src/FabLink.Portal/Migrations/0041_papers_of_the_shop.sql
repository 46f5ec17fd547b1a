-- A photo or print that the build shop keeps for a shop that never signs in is marked so, as what it says for it is.
alter table attachment add column on_behalf boolean not null default false;
create trigger who_and_when_for before insert on attachment for each row execute function on_behalf_says_so();
