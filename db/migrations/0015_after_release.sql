-- +goose Up
-- What ends a certificate after its release: an event at the unit, a recall of a
-- lot, quality's own reason. Each is a row of certificate_status; the file is
-- never touched.

-- An event is recorded by who knows of it; the instant at which it happened is
-- what they say, recorded_at is when they said it.
create table unit_events (
  id          uuid primary key,      -- made by the form
  unit        text not null references units (tag),
  site_id     bigint not null references sites (id),
  kind        text not null check (kind in ('fluid', 'repair', 'move', 'shutdown', 'other')),
  detail      text not null check (detail <> ''),
  happened_at timestamptz not null,
  recorded_at timestamptz not null check (recorded_at >= happened_at),
  stored_at   timestamptz not null default clock_timestamp(),
  person_id   text not null references persons (id),
  name        text not null,
  voided      text references releases (number)
);
create index unit_events_by_unit on unit_events (unit, happened_at);

create table recalls (
  id          uuid primary key,      -- made by the form
  fluid       text not null check (fluid <> ''),
  lot         text not null check (lot <> ''),
  asked       text[] not null,       -- the certificates that were chosen
  skipped     text[] not null,       -- those of them that were withdrawn before
  reason      text not null check (reason <> ''),
  person_id   text not null references persons (id),
  name        text not null,
  method      text not null,         -- how the identity was proven
  recalled_at timestamptz not null,
  stored_at   timestamptz not null default clock_timestamp()
);

call make_append_only('unit_events', 'recalls');

alter table certificate_status
  add column event_id uuid references unit_events (id),
  add column recall_id uuid references recalls (id),
  add check (num_nonnulls(event_id, recall_id) <= (status = 'withdrawn')::integer);

-- withdraw_one writes the status and its act where none is written yet, and says
-- whether it did. Who calls it has asked whether the person may.
-- +goose StatementBegin
create function withdraw_one(p_number text, p_person text, p_reason text, p_at timestamptz, p_event uuid, p_recall uuid)
returns boolean language plpgsql as $$
declare r runs;
begin
  select * into r from runs where id = (select run_id from releases where number = p_number) for no key update;
  if not found then
    raise exception 'There is no certificate %.', p_number using errcode = 'SMNOT';
  end if;
  if exists (select 1 from certificate_status where number = p_number and status = 'withdrawn') then
    return false;
  end if;
  insert into certificate_status (number, status, at, person_id, name, reason, event_id, recall_id)
  select p_number, 'withdrawn', p_at, p.id, p.name, p_reason, p_event, p_recall from persons p where p.id = p_person;
  perform note_run(r, 'certificate withdrawn', p_person, p_at, p_number, p_reason);
  return true;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function check_quality(p_person text) returns void language plpgsql as $$
begin
  if not exists (select 1 from grants g join persons p on p.id = g.person_id
      where p.id = p_person and p.disabled_at is null and g.role = 'quality') then
    raise exception 'Only quality may withdraw a certificate.' using errcode = 'SMFOR';
  end if;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create or replace function withdraw_certificate(p_number text, p_person text, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare c certificate_status;
begin
  perform 1 from runs where id = (select run_id from releases where number = p_number) for no key update;
  select * into c from certificate_status where number = p_number and status = 'withdrawn';
  if found then
    if (c.person_id, c.reason) = (p_person, p_reason) then
      return;
    end if;
    raise exception 'Certificate % was withdrawn before, by %.', p_number, c.name using errcode = 'SMCON';
  end if;
  perform check_quality(p_person);
  perform withdraw_one(p_number, p_person, p_reason, p_at, null, null);
end $$;
-- +goose StatementEnd

-- record_unit_event writes an event and withdraws the unit's newest certificate
-- when the event came after what that certificate speaks of: after the engineer
-- signed, and before its time was over. It gives the certificate's number, null
-- when none was ended. The unit's row puts events and releases in one order.
-- +goose StatementBegin
create function record_unit_event(p_id uuid, p_unit text, p_person text, p_kind text, p_detail text,
  p_happened_at timestamptz, p_at timestamptz)
returns text language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare u units; e unit_events; c releases; v_name text; v_day text; v_reason text; v_run uuid;
begin
  select * into u from units where tag = p_unit for no key update;
  if not found then
    raise exception 'There is no unit %.', p_unit using errcode = 'SMNOT';
  end if;
  select * into e from unit_events where id = p_id;
  if found then
    if (e.unit, e.person_id, e.kind, e.detail, e.happened_at) is distinct from (p_unit, p_person, p_kind, p_detail, p_happened_at) then
      raise exception 'This form was sent before with other content. Open the unit''s page and record it anew.' using errcode = 'SMIDS';
    end if;
    return e.voided;
  end if;
  if not (may(p_person, 'engineer', u.site_id) or may(p_person, 'supervisor', u.site_id)) then
    raise exception 'Only an engineer or a supervisor of this site may record an event of a unit.' using errcode = 'SMFOR';
  end if;
  if p_happened_at > p_at then
    raise exception 'That lies ahead. Give the time at which it happened.' using errcode = 'SMINV';
  end if;
  select name into strict v_name from persons where id = p_person;
  select r.* into c from releases r join signatures s on s.run_id = r.run_id and s.round = r.round and s.kind = 'submit'
  where r.unit = p_unit and not exists (select 1 from releases n where n.unit = r.unit and n.previous = r.number)
    and p_happened_at >= s.signed_at and (r.valid_until is null or p_happened_at <= r.valid_until);
  perform 1 from runs where id = c.run_id for no key update;
  if exists (select 1 from certificate_status where number = c.number and status = 'withdrawn') then
    c := null;
  end if;
  insert into unit_events (id, unit, site_id, kind, detail, happened_at, recorded_at, person_id, name, voided)
  values (p_id, p_unit, u.site_id, p_kind, p_detail, p_happened_at, p_at, p_person, v_name, c.number);
  select to_char(p_happened_at at time zone time_zone, 'YYYY-MM-DD') into v_day from sites where id = u.site_id;
  v_reason := case p_kind when 'fluid' then 'change of fluid' when 'shutdown' then 'long shutdown' when 'other' then 'other event'
    else p_kind end || ' on ' || v_day || ', recorded by ' || v_name || ': ' || p_detail;
  insert into acts (key, at, person_id, name, act, site_id, run_id, unit, subject, detail)
  values (p_id, p_at, p_person, v_name, 'unit event recorded', u.site_id, c.run_id, p_unit, coalesce(c.number, p_unit), v_reason);
  if c.number is not null then
    perform withdraw_one(c.number, p_person, 'Void: ' || v_reason, p_at, p_id, null);
  end if;
  return c.number;
end $$;
-- +goose StatementEnd

-- A release speaks of the unit as the engineer left it. What happened to the
-- unit since is not in its evidence, so the release is refused.
-- +goose StatementBegin
create function check_unit_untouched() returns trigger language plpgsql as $$
declare e unit_events;
begin
  perform 1 from units where tag = new.unit for no key update;
  select v.* into e from unit_events v
  join signatures s on s.run_id = new.run_id and s.round = new.round and s.kind = 'submit'
  where v.unit = new.unit and v.happened_at >= s.signed_at order by v.happened_at limit 1;
  if found then
    raise exception 'After the engineer signed, % recorded of unit %: %. Return the run; it must be proven again.', e.name, new.unit, e.detail
      using errcode = 'SMCON';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger unit_untouched before insert on releases for each row execute function check_unit_untouched();
alter table releases enable always trigger unit_untouched;

-- recall_certificates withdraws the chosen certificates for one lot with one
-- reason, all or none; those that were withdrawn before are left as they are.
-- +goose StatementBegin
create function recall_certificates(p_id uuid, p_person text, p_fluid text, p_lot text, p_numbers text[], p_reason text,
  p_method text, p_at timestamptz)
returns text[] language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare k recalls; v_number text; v_asked text[]; v_skipped text[];
begin
  select array_agg(distinct n order by n) into v_asked from unnest(p_numbers) as n;
  perform r.id from runs r join releases c on c.run_id = r.id where c.number = any (v_asked) order by c.number for no key update of r;
  select * into k from recalls where id = p_id;
  if found then
    if (k.person_id, k.fluid, k.lot, k.asked, k.reason) is distinct from (p_person, p_fluid, p_lot, v_asked, p_reason) then
      raise exception 'This form was sent before with other content. Search for the lot anew.' using errcode = 'SMIDS';
    end if;
    return k.skipped;
  end if;
  perform check_quality(p_person);
  select coalesce(array_agg(n order by n), '{}') into v_skipped from unnest(v_asked) as n
  where exists (select 1 from certificate_status s where s.number = n and s.status = 'withdrawn');
  if v_asked is null or v_asked = v_skipped then
    raise exception 'All of these certificates are withdrawn already. There is nothing left to do.' using errcode = 'SMCON';
  end if;
  insert into recalls (id, fluid, lot, asked, skipped, reason, person_id, name, method, recalled_at)
  select p_id, p_fluid, p_lot, v_asked, v_skipped, p_reason, p.id, p.name, p_method, p_at from persons p where p.id = p_person;
  foreach v_number in array v_asked loop
    perform withdraw_one(v_number, p_person, p_reason, p_at, null, p_id);
  end loop;
  return v_skipped;
end $$;
-- +goose StatementEnd

-- lot_key is the fluid and lot that an entry, or the replacement in it, put in:
-- "K-20|L77A". Spaces and case do not count. Called immutable for the index; it
-- is, as the encoding of a database never changes.
-- +goose StatementBegin
create function lot_key(p_fluid text, p_lot text) returns text language sql immutable as
$$ select upper(regexp_replace(p_fluid || '|' || p_lot, '\s', '', 'g')) $$;
-- +goose StatementEnd
-- +goose StatementBegin
create function entry_lot(p_kind text, p_body bytea) returns text language sql immutable
set search_path = pg_catalog, settlemark, pg_temp as $$
  select lot_key(j->>'fluid', j->>'lot')
  from (select convert_from(p_body, 'UTF8')::jsonb as b) as s
  cross join lateral (select case p_kind when 'correction' then b->'replacement' else b end as j) as t
  where j->>'kind' = 'load'
$$;
-- +goose StatementEnd
create index entries_by_lot on entries (entry_lot(kind, body)) where kind in ('load', 'correction');
create index corrections on entries (run_id) where kind = 'correction';

create or replace view certificate_rows as
select c.number, c.run_id::text as run, r.number as run_number, c.unit, c.site_id as site,
  d->'site'->>'name' as site_name, d->'site'->>'time_zone' as time_zone, c.line, c.engineer, c.supervisor,
  c.released_at, c.valid_until, coalesce(s.successor, '') as superseded_by,
  w.at as withdrawn_at, coalesce(w.name, '') as withdrawn_by, coalesce(w.reason, '') as withdrawn_for,
  c.lots, p.number is not null as has_pdf, coalesce(encode(p.digest, 'hex'), '') as pdf_hash, r.demo,
  s.at as superseded_at, coalesce(s.name, '') as superseded_name,
  coalesce(e.kind, case when w.recall_id is not null then 'recall' when w.number is not null then 'quality' end, '') as withdrawn_cause
from releases c
join runs r on r.id = c.run_id
cross join lateral (select convert_from(r.opening, 'UTF8')::jsonb as d) as o
left join certificate_status s on s.number = c.number and s.status = 'superseded'
left join certificate_status w on w.number = c.number and w.status = 'withdrawn'
left join unit_events e on e.id = w.event_id
left join certificate_pdfs p on p.number = c.number;
