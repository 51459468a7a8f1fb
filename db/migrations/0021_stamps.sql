-- +goose Up
-- Tokens of a time stamp authority (RFC 3161), each over the signed checkpoint
-- of its row, byte for byte. An authority's word outlives our keys.

create table log_stamps (
  epoch      integer not null,
  size       bigint not null,
  token      bytea not null,
  authority  text not null,          -- whose certificate signed it
  stamped_at timestamptz not null,   -- the instant that it names
  stored_at  timestamptz not null default clock_timestamp(),
  primary key (epoch, size),
  foreign key (epoch, size) references log_checkpoints (epoch, size)
);
-- Append-only by hand: make_append_only would tell of each token in the log, and
-- a log that grows by its own stamps would need another one every day.
create trigger append_only before update or delete or truncate on log_stamps for each statement execute function refuse_change();
alter table log_stamps enable always trigger append_only;

-- +goose StatementBegin
create function store_stamp(p_epoch integer, p_size bigint, p_token bytea, p_authority text, p_at timestamptz)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  insert into log_stamps (epoch, size, token, authority, stamped_at) values (p_epoch, p_size, p_token, p_authority, p_at)
  on conflict do nothing;
$$;
-- +goose StatementEnd
