-- A day is a day of this work: the first or the last that a date can hold stands for infinity, and no sum or difference with it can be formed.
-- "Not valid": what an older portal let in stays as it is, nothing new of it comes in.
alter table promise add constraint promise_within_reason check (promised_date between date '2000-01-01' and date '2099-12-31') not valid;
alter table work_order_line add constraint need_within_reason check (need_date between date '2000-01-01' and date '2099-12-31') not valid;
alter table instrument add constraint calibration_within_reason check (calibration_due between date '2000-01-01' and date '2099-12-31') not valid;
-- A concession that is over releases nothing. A day of grace: where it was granted it may be yesterday still.
alter table concession add constraint concession_not_over check (valid_until between (granted_at at time zone 'UTC')::date - 1 and date '2099-12-31') not valid;
