-- A photo or print that the build shop keeps for a shop that never signs in says whose it is, as what it says for it does. That shop sees it.
alter table attachment add column for_id uuid references organisation;
create policy passed_on on attachment as restrictive for insert to fablink_app
    with check (for_id is null or work_order_id in (select my_own_orders()) and exists (
        select 1 from work_order w where w.id = work_order_id and (w.shop_id = for_id or exists (select 1 from route_step t where t.work_order_id = w.id and t.organisation_id = for_id))));
alter policy see on attachment
    using (work_order_id in (select my_orders()) or organisation_id = (select actor_organisation()) or for_id = (select actor_organisation()));
