-- +goose Up
-- The log across runs: an append-only Merkle tree (RFC 6962) with signed
-- checkpoints. Whoever writes a row of evidence writes a leaf that tells of it
-- into log_outbox, by trigger and in the same transaction; one program at a
-- time moves leaves from there into the tree and signs what came of it.
--
-- A leaf is canonical JSON (RFC 8785: sorted, no spaces). It holds digests, not
-- what people wrote. internal/ledger and internal/fsck write the same leaves.

-- An epoch is one tree with one name. The next begins when a database was
-- restored to an older state or the key was lost.
create table log_epochs (
  epoch     integer primary key check (epoch > 0),
  origin    text not null unique,
  reason    text not null,           -- '' for the first
  opened_at timestamptz not null
);

-- Public keys, as C2SP signed-note writes them.
create table log_keys (
  vkey  text primary key,
  epoch integer not null references log_epochs (epoch),
  at    timestamptz not null
);

create table log_outbox (
  id        bigint generated always as identity primary key,
  leaf      bytea not null,
  stored_at timestamptz not null default clock_timestamp()
);

create table log_leaves (
  epoch integer not null references log_epochs (epoch),
  place bigint not null,             -- from 0
  leaf  bytea not null,
  primary key (epoch, place)
);
create index log_leaves_by_content on log_leaves (sha256(leaf));

-- The tree's hashes, numbered as golang.org/x/mod/sumdb/tlog numbers them. They
-- follow from the leaves.
create table log_nodes (
  epoch integer not null,
  place bigint not null,
  hash  bytea not null check (length(hash) = 32),
  primary key (epoch, place)
);

create table log_checkpoints (
  epoch     integer not null references log_epochs (epoch),
  size      bigint not null,
  root      bytea not null check (length(root) = 32),
  sealed_at timestamptz not null,
  signed    bytea not null,          -- the signed note, which says the same
  primary key (epoch, size)
);

create table log_cosignatures (
  epoch   integer not null,
  size    bigint not null,
  witness text not null,             -- its name in the policy
  line    text not null,             -- as it goes under the note
  primary key (epoch, size, witness),
  foreign key (epoch, size) references log_checkpoints (epoch, size)
);

-- How far each epoch has come: leaves in the tree, signed, and signed with the
-- witnesses that the site's policy asks for. Who holds the row seals.
create table log_heads (
  epoch       integer primary key references log_epochs (epoch),
  size        bigint not null,
  signed      bigint not null default 0,
  published   bigint not null default 0,
  stopped_at  timestamptz,           -- sealing stopped, and why
  stopped_for text not null default '',
  check (published <= signed and signed <= size)
);

create function instant(p_at timestamptz) returns text language sql stable as
$$ select to_char(p_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"') $$;

-- row_leaf tells of a row of any table by the digest of its columns. Columns
-- that are null or '' are left out, so that a column added later, which is that
-- in the rows of before, leaves their digests as they were.
-- +goose StatementBegin
create function row_leaf(p_table text, p_key text, p_row jsonb) returns bytea language sql stable as $$
  select convert_to(case p_table
    when 'acts' then '{"digest":"' || digest || '","id":' || p_key || ',"t":"act/1"}'
    else '{"digest":"' || digest || '","key":' || to_json(p_key) || ',"t":"row/1","table":"' || p_table || '"}'
    end, 'UTF8')
  from (select encode(sha256(convert_to(coalesce(jsonb_object_agg(key, value), '{}')::text, 'UTF8')), 'hex') as digest
        from jsonb_each(p_row) where value not in ('null', '""')) as d
$$;
-- +goose StatementEnd

-- Arguments: the columns of the key, and those that the leaf leaves out.
-- +goose StatementBegin
create function log_row() returns trigger language plpgsql set timezone = 'UTC' set bytea_output = 'hex' as $$
declare
  v_row jsonb := to_jsonb(new);
  v_key text;
begin
  select string_agg(v_row->>c, '/' order by n) into v_key from unnest(string_to_array(tg_argv[0], ',')) with ordinality as k (c, n);
  insert into log_outbox (leaf) values (row_leaf(tg_table_name, v_key, v_row - string_to_array(tg_argv[1], ',')));
  return null;
end $$;
-- +goose StatementEnd

-- log_rows lets every new row of a table be told of in the log, and tells of
-- those that are there.
-- +goose StatementBegin
create procedure log_rows(p_table text, p_without text[] default '{}')
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
  execute format('insert into log_outbox (leaf)
    select row_leaf(%L, (select string_agg(r->>c, ''/'' order by n) from unnest(%L::text[]) with ordinality as k (c, n)), r - %L::text[])
    from (select to_jsonb(t) as r from %I t order by %s) as rows',
    p_table, v_key, p_without, p_table, (select string_agg(quote_ident(c), ', ') from unnest(v_key) as c));
end $$;
-- +goose StatementEnd

-- One leaf a post, when its entries are there: its chain, and what the chain
-- does not cover.
-- +goose StatementBegin
create function log_post() returns trigger language plpgsql as $$
begin
  insert into log_outbox (leaf)
  select convert_to('{"chain":"' || encode(p.chain, 'hex') || '","received":"' || instant(p.received_at) || '","run":"' || p.run_id
    || '","sent":"' || encode(sha256(f.sent), 'hex') || '","seq":' || p.last_seq || ',"t":"entry/1"}', 'UTF8')
  from (select run_id, post_seq, string_agg(sent_hash, ''::bytea order by seq) as sent from fresh group by run_id, post_seq) as f
  join posts p on p.run_id = f.run_id and p.last_seq = f.post_seq
  order by p.run_id, p.last_seq;
  return null;
end $$;
-- +goose StatementEnd

-- The leaves that travel with a certificate and are computed again by whoever
-- checks it.
-- +goose StatementBegin
create function certificate_leaf(r releases) returns bytea language sql stable as $$
  select convert_to('{"digest":"' || encode(r.digest, 'hex') || '","number":' || to_json(r.number) || ',"t":"certificate/1"}', 'UTF8')
$$;
-- +goose StatementEnd
-- +goose StatementBegin
create function certificate_file_leaf(p certificate_pdfs) returns bytea language sql stable as $$
  select convert_to('{"number":' || to_json(p.number) || ',"sha256":"' || encode(p.digest, 'hex') || '","t":"certificate-pdf/1"}', 'UTF8')
$$;
-- +goose StatementEnd
-- +goose StatementBegin
create function status_leaf(s certificate_status) returns bytea language sql stable as $$
  select convert_to('{"at":"' || instant(s.at) || '","number":' || to_json(s.number) || ',"reason":"'
    || encode(sha256(convert_to(s.reason, 'UTF8')), 'hex') || '","status":' || to_json(s.status) || ',"t":"status/1"}', 'UTF8')
$$;
-- +goose StatementEnd
-- +goose StatementBegin
create function log_public() returns trigger language plpgsql as $$
begin
  case tg_table_name
    when 'releases' then insert into log_outbox (leaf) values (certificate_leaf(new));
    when 'certificate_pdfs' then insert into log_outbox (leaf) values (certificate_file_leaf(new));
    when 'certificate_status' then insert into log_outbox (leaf) values (status_leaf(new));
  end case;
  return null;
end $$;
-- +goose StatementEnd

-- Evidence that is there, oldest runs first.
create trigger log_post after insert on entries referencing new table as fresh for each statement execute function log_post();
alter table entries enable always trigger log_post;
insert into log_outbox (leaf)
select convert_to('{"chain":"' || encode(p.chain, 'hex') || '","received":"' || instant(p.received_at) || '","run":"' || p.run_id
  || '","sent":"' || encode(sha256(f.sent), 'hex') || '","seq":' || p.last_seq || ',"t":"entry/1"}', 'UTF8')
from (select run_id, post_seq, string_agg(sent_hash, ''::bytea order by seq) as sent from entries group by run_id, post_seq) as f
join posts p on p.run_id = f.run_id and p.last_seq = f.post_seq
order by p.received_at, p.run_id, p.last_seq;
insert into log_outbox (leaf) select certificate_leaf(r) from releases r order by r.number;
insert into log_outbox (leaf) select certificate_file_leaf(p) from certificate_pdfs p order by p.number;
insert into log_outbox (leaf) select status_leaf(s) from certificate_status s order by s.at, s.number;
-- +goose StatementBegin
do $$
declare t text;
begin
  foreach t in array array['releases', 'certificate_pdfs', 'certificate_status'] loop
    execute format('create trigger log_public after insert on %I for each row execute function log_public()', t);
    execute format('alter table %I enable always trigger log_public', t);
  end loop;
  -- All other evidence by its rows; posts and entries have their own.
  for t in select c.relname from pg_trigger g join pg_class c on c.oid = g.tgrelid
      where g.tgname = 'append_only' and c.relname not in ('posts', 'entries') order by c.relname loop
    call log_rows(t, case t
      when 'runs' then array['state', 'round', 'seq', 'head', 'pen'] -- these move, and follow from the rest
      when 'photos' then array['bytes'] when 'certificate_pdfs' then array['pdf'] -- long, with their digest beside them
      else '{}' end);
  end loop;
end $$;
-- +goose StatementEnd

call make_append_only('log_epochs', 'log_keys', 'log_leaves', 'log_nodes', 'log_checkpoints', 'log_cosignatures');
call log_rows('log_epochs');
call log_rows('log_keys');

-- From here on every table that is made append-only is told of in the log.
-- +goose StatementBegin
create or replace procedure make_append_only(variadic p_tables text[]) language plpgsql as $$
declare t text;
begin
  foreach t in array p_tables loop
    execute format('create trigger append_only before update or delete or truncate on %I
                    for each statement execute function refuse_change()', t);
    execute format('alter table %I enable always trigger append_only', t);
    call log_rows(t);
  end loop;
end $$;
-- +goose StatementEnd

-- lock_log gives the head of the newest epoch to the one who seals; no row while
-- somebody else does. An advisory lock would not do: anybody may take those.
-- +goose StatementBegin
create function lock_log() returns setof log_heads
language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  select * from log_heads where epoch = (select max(epoch) from log_epochs) for update skip locked
$$;
-- +goose StatementEnd

-- head_of gives the head of the newest epoch, held until the transaction ends.
-- +goose StatementBegin
create function head_of(p_epoch integer) returns log_heads language plpgsql as $$
declare h log_heads;
begin
  select * into h from log_heads where epoch = p_epoch for update;
  if not found or p_epoch <> (select max(epoch) from log_epochs) then
    raise exception 'epoch % of the log is not the newest', p_epoch using errcode = 'SMCON';
  end if;
  return h;
end $$;
-- +goose StatementEnd

-- grow_log moves leaves from the outbox into the tree of p_size leaves.
-- p_hashes are the hashes that follow from them, in the order of their places.
-- +goose StatementBegin
create function grow_log(p_epoch integer, p_size bigint, p_ids bigint[], p_hashes bytea[])
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare h log_heads := head_of(p_epoch); moved bigint;
begin
  if h.size <> p_size then
    raise exception 'the log has % leaves, not %', h.size, p_size using errcode = 'SMCON';
  end if;
  insert into log_leaves (epoch, place, leaf)
  select p_epoch, p_size + s.n - 1, o.leaf from unnest(p_ids) with ordinality as s (id, n) join log_outbox o on o.id = s.id;
  get diagnostics moved = row_count;
  if moved <> cardinality(p_ids) or moved = 0 then
    raise exception '% of % leaves are in the outbox', moved, cardinality(p_ids) using errcode = 'SMCON';
  end if;
  -- A tree of n leaves has 2n minus the number of ones in n hashes.
  insert into log_nodes (epoch, place, hash)
  select p_epoch, 2 * p_size - bit_count(p_size::bit(64)) + s.n - 1, s.hash from unnest(p_hashes) with ordinality as s (hash, n);
  delete from log_outbox where id = any (p_ids);
  update log_heads set size = p_size + moved where epoch = p_epoch;
end $$;
-- +goose StatementEnd

-- seal_log keeps the signed checkpoint of the tree as it is, and ends a stop.
-- +goose StatementBegin
create function seal_log(p_epoch integer, p_size bigint, p_root bytea, p_sealed_at timestamptz, p_signed bytea, p_published boolean)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare h log_heads := head_of(p_epoch);
begin
  if h.size <> p_size or h.signed >= p_size
     or p_sealed_at < (select max(sealed_at) from log_checkpoints where epoch = p_epoch) then
    raise exception 'a checkpoint of % leaves does not follow one of %', p_size, h.signed using errcode = 'SMCON';
  end if;
  insert into log_checkpoints (epoch, size, root, sealed_at, signed) values (p_epoch, p_size, p_root, p_sealed_at, p_signed);
  update log_heads set signed = p_size, published = case when p_published then p_size else published end,
    stopped_at = null, stopped_for = '' where epoch = p_epoch;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function cosign_log(p_epoch integer, p_size bigint, p_witness text, p_line text)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  insert into log_cosignatures (epoch, size, witness, line) values (p_epoch, p_size, p_witness, p_line) on conflict do nothing;
$$;
-- +goose StatementEnd

-- publish_log says that a checkpoint has the cosignatures that it needs.
-- +goose StatementBegin
create function publish_log(p_epoch integer, p_size bigint)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  update log_heads set published = p_size where epoch = p_epoch and published < p_size
    and exists (select 1 from log_checkpoints where epoch = p_epoch and size = p_size);
$$;
-- +goose StatementEnd

-- +goose StatementBegin
create function stop_log(p_epoch integer, p_at timestamptz, p_why text)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  update log_heads set stopped_at = coalesce(stopped_at, p_at), stopped_for = p_why where epoch = p_epoch and stopped_for <> p_why;
$$;
-- +goose StatementEnd

-- open_log begins an epoch. p_leaf is the first leaf of its tree, null for none.
-- +goose StatementBegin
create function open_log(p_epoch integer, p_origin text, p_vkey text, p_reason text, p_at timestamptz, p_leaf bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  perform 1 from log_heads where epoch = p_epoch - 1 for update; -- who seals the one before finishes
  if p_epoch <> coalesce((select max(epoch) from log_epochs), 0) + 1 then
    raise exception 'epoch % of the log was opened by somebody else', p_epoch using errcode = 'SMCON';
  end if;
  insert into log_epochs (epoch, origin, reason, opened_at) values (p_epoch, p_origin, p_reason, p_at);
  insert into log_keys (vkey, epoch, at) values (p_vkey, p_epoch, p_at);
  if p_leaf is not null then
    insert into log_leaves (epoch, place, leaf) values (p_epoch, 0, p_leaf);
    insert into log_nodes (epoch, place, hash) values (p_epoch, 0, sha256('\x00'::bytea || p_leaf));
  end if;
  insert into log_heads (epoch, size) values (p_epoch, case when p_leaf is null then 0 else 1 end);
end $$;
-- +goose StatementEnd

-- add_log_key tells that another key signs from now on.
-- +goose StatementBegin
create function add_log_key(p_epoch integer, p_vkey text, p_at timestamptz, p_leaf bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  perform head_of(p_epoch);
  insert into log_keys (vkey, epoch, at) values (p_vkey, p_epoch, p_at);
  insert into log_outbox (leaf) values (p_leaf);
end $$;
-- +goose StatementEnd
