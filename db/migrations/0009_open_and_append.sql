-- +goose Up
-- The only ways into a run. Each takes the run's row first, so writers of one
-- run queue up and there is no order of locks to get wrong. A refusal carries a
-- sentence; its SQLSTATE says of which kind it is (db/problem.go).

-- +goose StatementBegin
create function lock_run(p_run uuid) returns runs
language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  select * into r from runs where id = p_run for no key update;
  if not found then
    raise exception 'There is no such run.' using errcode = 'SMNOT';
  end if;
  return r;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function open_run(p_run uuid, p_person text, p_unit text, p_procedure text, p_revision integer,
  p_opening bytea, p_opened_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; s sites; n bigint;
begin
  select * into r from runs where id = p_run;
  if found then
    if (r.opened_by, r.unit, r.procedure, r.revision) is distinct from (p_person, p_unit, p_procedure, p_revision) then
      raise exception 'This run was opened differently before. Start again from the unit''s page.' using errcode = 'SMIDS';
    end if;
    return;
  end if;
  select st.* into s from units u join sites st on st.id = u.site_id where u.tag = p_unit;
  if not found then
    raise exception 'There is no unit %.', p_unit using errcode = 'SMNOT';
  end if;
  if not may(p_person, 'engineer', s.id) then
    raise exception 'Only an engineer of this site may open a run.' using errcode = 'SMFOR';
  end if;
  if not exists (select 1 from procedure_approvals where key = p_procedure and revision = p_revision) then
    raise exception 'This revision is not approved. Ask quality to approve it, or choose another.' using errcode = 'SMCON';
  end if;
  update counters set last = last + 1 where name = 'run' returning last into n;
  select * into r from runs where unit = p_unit and state in ('open', 'submitted');
  if found then
    raise exception 'Unit % is not free: run % is %.', p_unit, code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  insert into runs (id, number, unit, site_id, procedure, revision, opening, opened_at, opened_by, demo, head, pen)
  values (p_run, n, p_unit, s.id, p_procedure, p_revision, p_opening, p_opened_at, p_person, s.demo,
    sha256('run-open/1'::bytea || '\x00'::bytea || p_opening), p_person)
  returning * into r;
  insert into contributors (run_id, person_id) values (p_run, p_person);
  perform note_run(r, 'run opened', p_person, p_opened_at, code('R', r.number),
    p_procedure || ' revision ' || p_revision);
end $$;
-- +goose StatementEnd

-- check_author refuses kinds that this author may not add to the run now.
-- +goose StatementBegin
create function check_author(r runs, p_person text, p_logger text, p_kinds text[])
returns void language plpgsql as $$
declare
  ruling boolean := 'disposition' = any (p_kinds);
  work boolean := cardinality(array_remove(p_kinds, 'disposition')) > 0;
begin
  if r.state not in ('open', 'submitted') or work and r.state <> 'open' then
    raise exception 'Run % is %. Nothing can be added to it.', code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  if p_logger is not null then
    if not p_kinds <@ array['reading', 'fault', 'fault_cleared', 'start', 'stop'] then
      raise exception 'A logger may add readings, faults, starts and stops only.' using errcode = 'SMFOR';
    end if;
    if not exists (select 1 from logger_units where logger_id = p_logger and unit = r.unit) then
      raise exception 'Logger % does not report for unit %.', p_logger, r.unit using errcode = 'SMFOR';
    end if;
    return;
  end if;
  if ruling then
    if not may(p_person, 'supervisor', r.site_id) then
      raise exception 'Only a supervisor of this site may rule on an entry. Ask one to open this run.' using errcode = 'SMFOR';
    end if;
    if work or exists (select 1 from contributors where run_id = r.id and person_id = p_person) then
      raise exception 'You worked on this run. Someone else must rule on it.' using errcode = 'SMFOR';
    end if;
  end if;
  if work then
    if not may(p_person, 'engineer', r.site_id) then
      raise exception 'Only an engineer of this site may add entries. Ask the engineer who holds the pen.' using errcode = 'SMFOR';
    end if;
    if r.pen <> p_person and not p_kinds <@ array['fault', 'note'] then
      raise exception 'Somebody else holds the pen of this run. Take the pen first; both of you are named.' using errcode = 'SMFOR';
    end if;
    if exists (select 1 from entries where run_id = r.id and person_id = p_person and kind = 'disposition') then
      raise exception 'You ruled on this run. Someone else must work on it.' using errcode = 'SMFOR';
    end if;
  end if;
end $$;
-- +goose StatementEnd

-- append_post stores one post of entries by one author. Entries that are stored
-- already are left out and answered as before. The bodies are canonical JSON;
-- id, kind and instant are taken from them, so the columns can't disagree.
-- +goose StatementBegin
create function append_post(p_run uuid, p_person text, p_logger text, p_sent_hashes bytea[], p_bodies bytea[])
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
    perform check_author(r, p_person, p_logger, fresh_kinds);
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

-- +goose StatementBegin
create function store_photo(p_run uuid, p_person text, p_original bytea, p_media_type text,
  p_width integer, p_height integer, p_bytes bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  r := lock_run(p_run);
  if exists (select 1 from photos where run_id = p_run and digest = sha256(p_bytes)) then
    return;
  end if;
  perform check_author(r, p_person, null, array['photo']);
  if (select count(*) from photos where run_id = p_run) >= 60 then
    raise exception 'This run has 60 photos already, which is the most it can hold.' using errcode = 'SMCON';
  end if;
  insert into photos (run_id, digest, original, media_type, width, height, bytes, person_id)
  values (p_run, sha256(p_bytes), p_original, p_media_type, p_width, p_height, p_bytes, p_person);
  insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function take_pen(p_run uuid, p_person text, p_note text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; holder text;
begin
  r := lock_run(p_run);
  if r.pen = p_person then
    return;
  end if;
  perform check_author(r, p_person, null, array['note']);
  select name into holder from persons where id = r.pen;
  update runs set pen = p_person where id = p_run returning * into r;
  insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
  perform note_run(r, 'pen taken', p_person, p_at, code('R', r.number),
    'from ' || holder || case when p_note = '' then '' else ': ' || p_note end);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function abandon_run(p_run uuid, p_person text, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  r := lock_run(p_run);
  if exists (select 1 from abandonments where run_id = p_run and person_id = p_person and reason = p_reason) then
    return;
  end if;
  if r.state <> 'open' then
    raise exception 'Run % is %. Only an open run can be abandoned.', code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  if not (may(p_person, 'supervisor', r.site_id) or r.pen = p_person and may(p_person, 'engineer', r.site_id)) then
    raise exception 'Only the holder of the pen or a supervisor of this site may abandon a run.' using errcode = 'SMFOR';
  end if;
  insert into abandonments (run_id, person_id, reason, abandoned_at) values (p_run, p_person, p_reason, p_at);
  update runs set state = 'abandoned' where id = p_run returning * into r;
  perform note_run(r, 'run abandoned', p_person, p_at, code('R', r.number), p_reason);
end $$;
-- +goose StatementEnd
