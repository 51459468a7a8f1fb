-- +goose Up
-- Every act of consequence, across runs. The functions that do an act write it
-- in the same transaction.

create table acts (
  id        bigint generated always as identity primary key,
  key       uuid not null unique,    -- so that an act done again is recorded once
  at        timestamptz not null,
  stored_at timestamptz not null default clock_timestamp(),
  person_id text references persons (id),
  name      text not null,           -- printed name, '' when the program did it
  act       text not null,
  site_id   bigint references sites (id),
  run_id    uuid references runs (id),
  unit      text,
  subject   text not null,
  detail    text not null
);
create index acts_by_unit on acts (unit, id);
create index acts_by_run on acts (run_id);
create index acts_by_subject on acts (subject, id);
call make_append_only('acts');

-- note_run writes an act on a run and tells every listener once it is committed.
-- +goose StatementBegin
create function note_run(p_run runs, p_act text, p_person text, p_at timestamptz, p_subject text, p_detail text)
returns void language plpgsql as $$
begin
  insert into acts (key, at, person_id, name, act, site_id, run_id, unit, subject, detail)
  select gen_random_uuid(), p_at, p.id, p.name, p_act, p_run.site_id, p_run.id, p_run.unit, p_subject, p_detail
  from persons p where p.id = p_person;
  perform pg_notify('settlemark_runs', p_run.id::text);
end $$;
-- +goose StatementEnd

-- note_register writes an act that is no evidence of a run. Acts on runs and
-- certificates can't be written through it.
-- +goose StatementBegin
create function note_register(p_key uuid, p_act text, p_person text, p_at timestamptz,
  p_site bigint, p_unit text, p_subject text, p_detail text)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if not p_act = any (array['site saved', 'line saved', 'bench saved', 'fluid saved', 'unit saved', 'logger saved',
    'person added', 'roles changed', 'person disabled', 'invite made', 'password set', 'first administrator']) then
    raise exception 'no such act: %', p_act using errcode = 'SMFOR';
  end if;
  insert into acts (key, at, person_id, name, act, site_id, unit, subject, detail)
  values (p_key, p_at, p_person, coalesce((select name from persons where id = p_person), ''),
    p_act, p_site, p_unit, p_subject, p_detail)
  on conflict (key) do nothing;
end $$;
-- +goose StatementEnd
