-- +goose Up
-- Triggers that keep evidence as it was written. They are made ENABLE ALWAYS,
-- so they also stop the owner and session_replication_role = replica.

-- +goose StatementBegin
create function refuse_change() returns trigger language plpgsql as $$
begin
  raise exception 'evidence in % is never changed or removed', tg_table_name using errcode = 'SMAPP';
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create procedure make_append_only(variadic p_tables text[]) language plpgsql as $$
declare t text;
begin
  foreach t in array p_tables loop
    execute format('create trigger append_only before update or delete or truncate on %I
                    for each statement execute function refuse_change()', t);
    execute format('alter table %I enable always trigger append_only', t);
  end loop;
end $$;
-- +goose StatementEnd

-- code('P', 4) is P-0004; it grows past four digits.
create function code(p_letter text, p_number bigint) returns text language sql immutable as
$$ select p_letter || '-' || lpad(p_number::text, greatest(4, length(p_number::text)), '0') $$;

-- Numbers that may leave no gap are counted in a row that is locked with the act.
create table counters (
  name text primary key,
  last bigint not null
);
insert into counters (name, last) values ('run', 0), ('certificate', 0);
