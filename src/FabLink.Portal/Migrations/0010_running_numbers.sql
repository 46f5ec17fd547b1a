-- A running number as it is written: at least so many digits, more when there are more.
create function written(p_number integer, p_digits integer) returns text language sql immutable parallel safe
    as $$ select lpad(p_number::text, greatest(p_digits, length(p_number::text)), '0') $$;
grant execute on function written(integer, integer) to fablink_app;
