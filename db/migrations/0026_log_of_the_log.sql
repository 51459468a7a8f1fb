-- +goose Up
-- The log's own checkpoints, cosignatures and time stamps are told of in it too:
-- whoever takes one away leaves behind a leaf that tells of what is not there.
-- Their leaves call for no checkpoint, else each checkpoint would call for the
-- next: they ride into the tree with the next leaf that does.
alter table log_outbox add column rides boolean not null default false;
create index log_outbox_calls on log_outbox (id) where not rides;

create function rides(p_table text) returns boolean language sql immutable as
$$ select p_table in ('log_checkpoints', 'log_cosignatures', 'log_stamps') $$;

-- log_row and log_rows as before, with that.
-- +goose StatementBegin
create or replace function log_row() returns trigger language plpgsql set timezone = 'UTC' set bytea_output = 'hex' as $$
declare
  v_row jsonb := to_jsonb(new);
  v_key text;
begin
  select string_agg(v_row->>c, '/' order by n) into v_key from unnest(string_to_array(tg_argv[0], ',')) with ordinality as k (c, n);
  insert into log_outbox (leaf, rides)
  values (row_leaf(tg_table_name, v_key, v_row - string_to_array(tg_argv[1], ',')), rides(tg_table_name));
  return null;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create or replace procedure log_rows(p_table text, p_without text[] default '{}')
language plpgsql set timezone = 'UTC' set bytea_output = 'hex' as $$
declare v_key text[];
begin
  select array_agg(a.attname::text order by k.n) into v_key
  from pg_index i cross join unnest(i.indkey::smallint[]) with ordinality as k (number, n)
  join pg_attribute a on a.attrelid = i.indrelid and a.attnum = k.number
  where i.indrelid = p_table::regclass and i.indisprimary;
  execute format('create trigger log_row after insert on %I for each row execute function log_row(%L, %L)',
    p_table, array_to_string(v_key, ','), array_to_string(p_without, ','));
  execute format('alter table %I enable always trigger log_row', p_table);
  execute format('insert into log_outbox (leaf, rides)
    select row_leaf(%L, (select string_agg(r->>c, ''/'' order by n) from unnest(%L::text[]) with ordinality as k (c, n)), r - %L::text[]), %L
    from (select to_jsonb(t) as r from %I t order by %s) as rows',
    p_table, v_key, p_without, rides(p_table), p_table, (select string_agg(quote_ident(c), ', ') from unnest(v_key) as c));
end $$;
-- +goose StatementEnd

call log_rows('log_checkpoints');
call log_rows('log_cosignatures');
call log_rows('log_stamps');
