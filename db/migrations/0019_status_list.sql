-- +goose Up
-- The signed list of certificates that no longer stand, for who checks one
-- without asking us. Only the newest is kept: an older one says nothing that the
-- log does not, and each repeats the whole.
create table status_list (
  one         boolean primary key default true check (one),
  number      bigint not null,       -- never goes down
  epoch       integer not null references log_epochs (epoch),
  issued_at   timestamptz not null,
  next_update timestamptz not null check (next_update > issued_at),
  changes     bigint not null,       -- rows of certificate_status that it knows
  signed      bytea not null,        -- the signed note
  stored_at   timestamptz not null default clock_timestamp()
);

-- +goose StatementBegin
create function guard_status_list() returns trigger language plpgsql as $$
begin
  if new.number <= old.number or new.issued_at < old.issued_at or new.epoch < old.epoch then
    raise exception 'a status list follows number % of %', old.number, old.issued_at using errcode = 'SMAPP';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger guard_status_list before update on status_list for each row execute function guard_status_list();
alter table status_list enable always trigger guard_status_list;
create trigger keep_status_list before delete or truncate on status_list for each statement execute function refuse_change();
alter table status_list enable always trigger keep_status_list;

-- The head of the log is held, so that one list follows another.
-- +goose StatementBegin
create function store_status_list(p_number bigint, p_epoch integer, p_issued_at timestamptz, p_next_update timestamptz,
  p_changes bigint, p_signed bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  perform head_of(p_epoch);
  insert into status_list (number, epoch, issued_at, next_update, changes, signed)
  values (p_number, p_epoch, p_issued_at, p_next_update, p_changes, p_signed)
  on conflict (one) do update set number = p_number, epoch = p_epoch, issued_at = p_issued_at, next_update = p_next_update,
    changes = p_changes, signed = p_signed, stored_at = clock_timestamp();
end $$;
-- +goose StatementEnd

-- record_unit_event as before, but for a form that is sent again: "just now" is
-- another instant then, and must not make it another form.
-- +goose StatementBegin
create or replace function record_unit_event(p_id uuid, p_unit text, p_person text, p_kind text, p_detail text,
  p_happened_at timestamptz, p_at timestamptz)
returns text language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare u units; e unit_events; c releases; v_name text; v_day text; v_reason text;
begin
  select * into u from units where tag = p_unit for no key update;
  if not found then
    raise exception 'There is no unit %.', p_unit using errcode = 'SMNOT';
  end if;
  select * into e from unit_events where id = p_id;
  if found then
    if (e.unit, e.person_id, e.kind, e.detail) is distinct from (p_unit, p_person, p_kind, p_detail) then
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
