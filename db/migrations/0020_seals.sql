-- +goose Up
-- What makes a change under a signature show, also one by somebody who took the
-- triggers away: a signature carries the digest of every row that it stands on
-- (record) and of itself (seal). Both are computed again whenever the run is
-- read. Whoever computes them anew as well is found by what left the database.

-- What was signed before this carries none; the log knows those rows.
-- +goose StatementBegin
do $$ begin
  execute format('create function seals_since() returns timestamptz language sql immutable as %L',
    format('select %L::timestamptz', clock_timestamp()));
end $$;
-- +goose StatementEnd

alter table signatures add column record bytea, add column seal bytea;
alter table releases add column seal bytea;

-- run_record is the digest of all that a run holds when it is signed in a round:
-- entries up to a seq, and whatever the signature of that kind comes after.
-- +goose StatementBegin
create function run_record(p_run uuid, p_seq integer, p_round integer, p_kind text) returns bytea
language sql stable set search_path = pg_catalog, settlemark, pg_temp set timezone = 'UTC' set datestyle = 'ISO' as $$
  select sha256(convert_to('run-record/1' || string_agg(line, e'\n' order by line), 'UTF8')) from (
    select jsonb_build_array('run', id, number, unit, site_id, procedure, revision, encode(opening, 'hex'), opened_at, opened_by,
      stored_at, demo, pen)::text as line from runs where id = p_run
    union all
    select jsonb_build_array('procedure', encode(p.digest, 'hex'), a.person_id, a.name, a.method, a.approved_at, a.stored_at)::text
    from runs r join procedures p on p.key = r.procedure and p.revision = r.revision
      left join procedure_approvals a on a.key = p.key and a.revision = p.revision where r.id = p_run
    union all
    select jsonb_build_array('post', first_seq, last_seq, encode(digest, 'hex'), encode(previous, 'hex'), encode(chain, 'hex'), received_at)::text
    from posts where run_id = p_run and last_seq <= p_seq
    union all
    select jsonb_build_array('entry', id, seq, post_seq, kind, person_id, logger_id, observed_at, received_at, encode(sent_hash, 'hex'),
      encode(sha256(body), 'hex'))::text from entries where run_id = p_run and seq <= p_seq
    union all
    select jsonb_build_array('photo', encode(digest, 'hex'), encode(original, 'hex'), media_type, width, height, person_id, stored_at)::text
    from photos where run_id = p_run
    union all
    select jsonb_build_array('contributor', person_id, since)::text from contributors where run_id = p_run
    union all
    select jsonb_build_array('sample reading', round, person_id, text, read_at, stored_at)::text
    from sample_readings where run_id = p_run and (round < p_round or p_kind = 'countersign')
    union all
    select jsonb_build_array('return', round, person_id, name, encode(head, 'hex'), reason, returned_at, stored_at)::text
    from returns where run_id = p_run and round < p_round
    union all
    select jsonb_build_array('signature', round, kind, encode(seal, 'hex'))::text
    from signatures where run_id = p_run and (round < p_round or kind = 'submit' and p_kind = 'countersign')
  ) as lines
$$;
-- +goose StatementEnd

-- Columns that are empty do not count, so that a later one breaks no old seal.
-- +goose StatementBegin
create function seal_of(p_row anyelement) returns bytea
language sql stable set search_path = pg_catalog, settlemark, pg_temp set timezone = 'UTC' set datestyle = 'ISO' set bytea_output = 'hex' as $$
  select sha256(convert_to('seal/1' || jsonb_strip_nulls(to_jsonb(p_row) - 'seal')::text, 'UTF8'))
$$;
-- +goose StatementEnd

-- changes_of says what of a run is no longer as it was stored or signed, a line
-- for each; nothing while it is whole.
-- +goose StatementBegin
create function changes_of(p_run uuid) returns setof text
language sql stable set search_path = pg_catalog, settlemark, pg_temp as $$
  with r as (select * from runs where id = p_run),
  opened as (select convert_from(opening, 'UTF8')::jsonb as j from r),
  linked as (
    select p.*, lag(chain) over w as before, lag(last_seq) over w as upto,
      (select sha256('['::bytea || string_agg(body, ','::bytea order by seq) || ']'::bytea) from entries e
       where e.run_id = p.run_id and e.post_seq = p.last_seq) as holds,
      (select count(*) from entries e where e.run_id = p.run_id and e.post_seq = p.last_seq
         and e.seq between p.first_seq and p.last_seq) as entries
    from posts p where run_id = p_run window w as (order by last_seq)
  ),
  current as (select s.* from signatures s join r on s.run_id = r.id and s.round = r.round)
  select 'the run itself' where not exists (select 1 from r)
  union all
  select 'what the run was opened on' from r, opened
  where (j->>'run', j->>'opened_by', j->'unit'->>'tag', j->'procedure'->>'key', (j->'procedure'->>'revision')::integer)
      is distinct from (r.id::text, r.opened_by, r.unit, r.procedure, r.revision)
    or (j->>'opened_at')::timestamptz is distinct from r.opened_at
    or j->'procedure'->>'sha256' is distinct from
      (select encode(digest, 'hex') from procedures where key = r.procedure and revision = r.revision)
  union all
  select format('entries %s to %s', first_seq, last_seq) from linked, r
  where holds is distinct from digest or entries <> last_seq - first_seq + 1 or first_seq <> coalesce(upto, 0) + 1
    or previous <> coalesce(before, sha256('run-open/1'::bytea || '\x00'::bytea || r.opening))
    or chain <> sha256('run-chain/1'::bytea || '\x00'::bytea || previous || int4send(last_seq) || digest)
  union all
  select 'the end of the logbook' from r
  where (seq, head) is distinct from (coalesce((select max(last_seq) from posts where run_id = p_run), 0),
      coalesce((select chain from posts where run_id = p_run order by last_seq desc limit 1),
        sha256('run-open/1'::bytea || '\x00'::bytea || r.opening)))
    or seq <> (select count(*) from entries where run_id = p_run)
  union all
  select format('entry %s', seq) from entries e cross join lateral (select convert_from(body, 'UTF8')::jsonb as j) as said
  where run_id = p_run and ((e.id::text, kind, coalesce(person_id, logger_id)) is distinct from (j->>'id', j->>'kind', j->>'by')
    or (j->>'observed_at')::timestamptz is distinct from observed_at
    or received_at is distinct from (select p.received_at from posts p where p.run_id = p_run and p.last_seq = e.post_seq)
    or kind <> 'disposition' and person_id is not null and not exists (
      select 1 from contributors c where c.run_id = p_run and c.person_id = e.person_id))
  union all
  select 'the state of the run' from r
  where (exists (select 1 from current where kind = 'submit'), exists (select 1 from current where kind = 'countersign'),
      exists (select 1 from releases c where c.run_id = r.id and c.round = r.round),
      exists (select 1 from abandonments a where a.run_id = r.id), (select count(*) from returns t where t.run_id = r.id))
    is distinct from (state in ('submitted', 'released'), state = 'released', state = 'released', state = 'abandoned', round - 1)
  union all
  select format('the signature of %s', name) from signatures s where run_id = p_run and seal is distinct from seal_of(s)
    and not (seal is null and stored_at < seals_since())
  union all
  select format('what %s signed', s.name) from current s
  where not (s.record is null and s.stored_at < seals_since()) and s.record is distinct from run_record(p_run, coalesce(
    (select last_seq from posts where run_id = p_run and chain = s.head), 0), s.round, s.kind)
  union all
  select format('certificate %s', number) from releases c where run_id = p_run and seal is distinct from seal_of(c)
    and not (seal is null and stored_at < seals_since())
  union all
  select 'why the run was abandoned' from abandonments b where run_id = p_run and not exists (
    select 1 from acts a where a.run_id = p_run and a.act = 'run abandoned'
      and (a.person_id, a.at, a.detail) = (b.person_id, b.abandoned_at, b.reason))
$$;
-- +goose StatementEnd

-- run_changes is changes_of, also for bytes that are no text any more.
-- +goose StatementBegin
create function run_changes(p_run uuid) returns setof text
language plpgsql stable security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  return query select changes_of(p_run);
exception when data_exception then
  return next 'bytes that can no longer be read';
end $$;
-- +goose StatementEnd

-- Nobody signs on top of a record that was changed.
-- +goose StatementBegin
create function seal_signature() returns trigger language plpgsql as $$
declare v_changed text;
begin
  select string_agg(c, ', ') into v_changed from run_changes(new.run_id) as c;
  if v_changed is not null then
    raise exception 'This record has been changed since it was stored (%). Nothing can be signed on top of it; tell quality.', v_changed
      using errcode = 'SMCON';
  end if;
  new.record := run_record(new.run_id, (select seq from runs where id = new.run_id), new.round, new.kind);
  new.seal := seal_of(new);
  return new;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function seal_release() returns trigger language plpgsql as $$
begin
  new.seal := seal_of(new);
  return new;
end $$;
-- +goose StatementEnd

create trigger seal_signature before insert on signatures for each row execute function seal_signature();
alter table signatures enable always trigger seal_signature;
create trigger seal_release before insert on releases for each row execute function seal_release();
alter table releases enable always trigger seal_release;
