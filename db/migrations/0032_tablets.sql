-- +goose Up
-- What tablets wrote while they were without the server. A tablet numbers what
-- one person writes into one run, and binds each record to the one before by its
-- digest, so nothing on the way is left out, put in or changed unseen. It counts
-- by run, so that a record that is refused in one run holds up no other.

create table tablet_records (
  run_id    uuid not null references runs (id),
  person_id text not null references persons (id),
  device    text not null,
  n         integer not null check (n > 0),
  key       uuid not null unique,                       -- id of its entry
  previous  bytea not null,                             -- digest of record n-1, nothing for the first
  digest    bytea not null check (length(digest) = 32), -- SHA-256 of the record as it was sent
  offset_ms bigint,                                     -- server's clock minus the tablet's, as the tablet measured it
  app       text not null,                              -- the release that wrote it
  stored_at timestamptz not null default clock_timestamp(),
  primary key (run_id, person_id, device, n)
);

-- Records that could not become entries, kept as they were sent. Quality sees them.
create table set_aside (
  key       uuid primary key,
  run_id    uuid not null references runs (id),
  person_id text not null references persons (id),
  device    text not null,
  n         integer not null,
  body      bytea not null,
  why       text not null,
  stored_at timestamptz not null default clock_timestamp()
);
create index set_aside_by_run on set_aside (run_id);

call make_append_only('tablet_records', 'set_aside');

-- hear_record says what the record of a tablet is to the run: new, again (heard
-- before), aside (set aside before), gap (wanted is the number that is missing),
-- or broken (it does not follow the one before).
-- +goose StatementBegin
create function hear_record(p_run uuid, p_person text, p_device text, p_n integer, p_key uuid, p_previous bytea, p_digest bytea)
returns table (outcome text, wanted integer, why text)
language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
#variable_conflict use_column
declare last integer; last_digest bytea; aside text;
begin
  perform lock_run(p_run);
  if exists (select 1 from tablet_records where run_id = p_run and person_id = p_person and key = p_key and digest = p_digest) then
    return query select 'again', 0, '';
    return;
  end if;
  select s.why into aside from set_aside s where s.run_id = p_run and s.person_id = p_person and s.key = p_key and sha256(s.body) = p_digest;
  if found then
    return query select 'aside', 0, aside;
    return;
  end if;
  select h.n, h.digest into last, last_digest from (
    select n, digest from tablet_records where run_id = p_run and person_id = p_person and device = p_device
    union all
    select n, sha256(body) from set_aside where run_id = p_run and person_id = p_person and device = p_device
  ) as h order by h.n desc limit 1;
  if p_n > coalesce(last, 0) + 1 then
    return query select 'gap', coalesce(last, 0) + 1, '';
  elsif p_n <= coalesce(last, 0) or p_previous <> coalesce(last_digest, '') then
    return query select 'broken', 0, '';
  else
    return query select 'new', 0, '';
  end if;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function keep_record(p_run uuid, p_person text, p_device text, p_n integer, p_key uuid, p_previous bytea, p_digest bytea,
  p_offset bigint, p_app text)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  insert into tablet_records (run_id, person_id, device, n, key, previous, digest, offset_ms, app)
  values (p_run, p_person, p_device, p_n, p_key, p_previous, p_digest, p_offset, p_app)
$$;
-- +goose StatementEnd

-- +goose StatementBegin
create function set_record_aside(p_run uuid, p_person text, p_device text, p_n integer, p_key uuid, p_body bytea, p_why text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  r := lock_run(p_run);
  if not may(p_person, 'engineer', r.site_id) then
    raise exception 'Only an engineer of this site may leave entries with a run.' using errcode = 'SMFOR';
  end if;
  insert into set_aside (key, run_id, person_id, device, n, body, why) values (p_key, p_run, p_person, p_device, p_n, p_body, p_why);
  perform note_run(r, 'run record set aside', p_person, p_at, code('R', r.number), p_why);
end $$;
-- +goose StatementEnd

-- append_post: whoever held the pen may still send what they wrote before it went
-- over, as long as every entry of it says that its time is not proven: it counts
-- against the unit, and for it only when a supervisor accepts it.
-- +goose StatementBegin
create function after_the_pen(r runs, p_person text, p_bodies bytea[]) returns boolean language sql stable as $$
  select r.pen <> p_person
    and exists (select 1 from contributors where run_id = r.id and person_id = p_person)
    and not exists (select 1 from unnest(p_bodies) as b where convert_from(b, 'UTF8')::jsonb #>> '{clock,proven}' is distinct from 'false')
$$;
-- +goose StatementEnd

-- +goose StatementBegin
create or replace function append_post(p_run uuid, p_person text, p_logger text, p_sent_hashes bytea[], p_bodies bytea[])
returns table (stored_seq integer, again boolean)
language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
#variable_conflict use_column
declare
  r runs; ids uuid[]; kinds text[]; fresh boolean[]; fresh_kinds text[];
  v_now timestamptz; v_digest bytea; v_last integer; v_chain bytea; v_first integer;
begin
  r := lock_run(p_run);
  v_now := clock_timestamp();
  select array_agg((j->>'id')::uuid order by n), array_agg(j->>'kind' order by n) into ids, kinds
  from (select n, convert_from(b, 'UTF8')::jsonb as j from unnest(p_bodies) with ordinality as t (b, n)) as sent;
  if exists (select 1 from unnest(p_bodies) as b where convert_from(b, 'UTF8')::jsonb->>'by' is distinct from coalesce(p_logger, p_person)) then
    raise exception 'An entry carries somebody else''s name.' using errcode = 'SMFOR';
  end if;
  if exists (select 1 from unnest(ids, p_sent_hashes) as s (id, hash) join entries e on e.id = s.id
             where e.run_id <> p_run or e.sent_hash <> s.hash) then
    raise exception 'An entry with this id was stored before with other content. Nothing was stored now.' using errcode = 'SMIDS';
  end if;
  select array_agg(not exists (select 1 from entries e where e.id = s.id) order by n) into fresh
  from unnest(ids) with ordinality as s (id, n);

  if true = any (fresh) then
    select array_agg(distinct kind) into fresh_kinds from unnest(kinds, fresh) as s (kind, new) where new;
    perform check_author(r, p_person, p_logger,
      case when after_the_pen(r, p_person, p_bodies) then array['note'] else fresh_kinds end);
    select sha256('['::bytea || string_agg(b, ','::bytea order by n) || ']'::bytea), count(*)
    into v_digest, v_last from unnest(p_bodies, fresh) with ordinality as s (b, new, n) where new;
    v_first := r.seq + 1;
    v_last := r.seq + v_last;
    v_chain := sha256('run-chain/1'::bytea || '\x00'::bytea || r.head || int4send(v_last) || v_digest);
    insert into posts (run_id, first_seq, last_seq, digest, previous, chain, received_at)
    values (p_run, v_first, v_last, v_digest, r.head, v_chain, v_now);
    insert into entries (id, run_id, seq, post_seq, kind, person_id, logger_id, observed_at, received_at, sent_hash, body)
    select id, p_run, r.seq + row_number() over (order by n), v_last, kind, p_person, p_logger,
      (convert_from(body, 'UTF8')::jsonb->>'observed_at')::timestamptz, v_now, hash, body
    from unnest(ids, kinds, p_sent_hashes, p_bodies, fresh) with ordinality as s (id, kind, hash, body, new, n) where new;
    if p_person is not null and fresh_kinds <> array['disposition'] then
      insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
    end if;
    update runs set seq = v_last, head = v_chain where id = p_run;
    perform pg_notify('settlemark_runs', p_run::text);
  else
    -- Write something, so that this commit waits for a synchronous standby as
    -- the first one may not have: "stored already" must mean kept.
    perform pg_logical_emit_message(true, 'settlemark', p_run::text);
  end if;
  return query select e.seq, not s.new from unnest(ids, fresh) with ordinality as s (id, new, n)
    join entries e on e.id = s.id order by s.n;
end $$;
-- +goose StatementEnd
