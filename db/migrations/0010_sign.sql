-- +goose Up
-- Submit, read the sample, return, countersign, withdraw, approve.

-- check_head refuses a signature over anything but what the signer was shown.
-- +goose StatementBegin
create function check_head(r runs, p_head bytea) returns void language plpgsql as $$
begin
  if r.head is distinct from p_head then
    raise exception 'Run % has changed since your page was made. Look at it again, then sign.', code('R', r.number) using errcode = 'SMCON';
  end if;
end $$;
-- +goose StatementEnd

-- check_second_person refuses everybody but a supervisor with no part in the run.
-- +goose StatementBegin
create function check_second_person(r runs, p_person text) returns void language plpgsql as $$
begin
  if r.state <> 'submitted' then
    raise exception 'Run % is %, not waiting for a countersignature.', code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  if not may(p_person, 'supervisor', r.site_id) then
    raise exception 'Only a supervisor of this site may do that.' using errcode = 'SMFOR';
  end if;
  if exists (select 1 from contributors where run_id = r.id and person_id = p_person) then
    raise exception 'You worked on this run. Someone else must sign.' using errcode = 'SMFOR';
  end if;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function submit_run(p_run uuid, p_person text, p_head bytea, p_meaning text, p_method text, p_nonce text,
  p_signed_at timestamptz, p_assessment bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  r := lock_run(p_run);
  if r.state <> 'open' then
    raise exception 'Run % is %. Only an open run can be submitted.', code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  if r.pen <> p_person or not may(p_person, 'engineer', r.site_id) then
    raise exception 'Only the engineer who holds the pen may submit this run.' using errcode = 'SMFOR';
  end if;
  perform check_head(r, p_head);
  insert into signatures (run_id, round, kind, person_id, name, role, meaning, method, signed_at, head, nonce, assessment, digest)
  select p_run, r.round, 'submit', p.id, p.name, 'engineer', p_meaning, p_method, p_signed_at, r.head, p_nonce, p_assessment, sha256(p_assessment)
  from persons p where p.id = p_person;
  insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
  update runs set state = 'submitted' where id = p_run returning * into r;
  perform note_run(r, 'run submitted', p_person, p_signed_at, code('R', r.number), 'round ' || r.round);
end $$;
-- +goose StatementEnd

-- The first reading of a round counts.
-- +goose StatementBegin
create function read_sample(p_run uuid, p_person text, p_text text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; kept text;
begin
  r := lock_run(p_run);
  select text into kept from sample_readings where run_id = p_run and round = r.round and person_id = p_person;
  if kept = p_text then
    return;
  end if;
  perform check_second_person(r, p_person);
  if kept is not null then
    raise exception 'You read "%" before, and the first reading counts. If it was wrong, say so as the reason for the difference.', kept using errcode = 'SMCON';
  end if;
  insert into sample_readings (run_id, round, person_id, text, read_at) values (p_run, r.round, p_person, p_text, p_at);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function return_run(p_run uuid, p_person text, p_head bytea, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  r := lock_run(p_run);
  if r.state = 'open' and exists (select 1 from returns where run_id = p_run and round = r.round - 1
      and person_id = p_person and head = p_head and reason = p_reason) then
    return;
  end if;
  perform check_second_person(r, p_person);
  perform check_head(r, p_head);
  insert into returns (run_id, round, person_id, name, head, reason, returned_at)
  select p_run, r.round, p.id, p.name, r.head, p_reason, p_at from persons p where p.id = p_person;
  update runs set state = 'open', round = r.round + 1 where id = p_run returning * into r;
  perform note_run(r, 'run returned', p_person, p_at, code('R', r.number), p_reason);
end $$;
-- +goose StatementEnd

-- next_certificate gives the number that the next release will carry and keeps
-- others from it until this transaction ends: no gap, no number twice.
-- +goose StatementBegin
create function next_certificate() returns text
language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare n bigint;
begin
  select last + 1 into n from counters where name = 'certificate' for update;
  return code('C', n);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function countersign_run(p_run uuid, p_person text, p_head bytea, p_meaning text, p_method text, p_nonce text,
  p_signed_at timestamptz, p_assessment bytea, p_agrees boolean, p_mismatch text,
  p_number text, p_line text, p_lots text[], p_valid_until timestamptz, p_document bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; s signatures; signer text; v_previous text; v_reading text;
begin
  r := lock_run(p_run);
  perform check_second_person(r, p_person);
  perform check_head(r, p_head);
  select * into strict s from signatures where run_id = p_run and round = r.round and kind = 'submit';
  select text into v_reading from sample_readings where run_id = p_run and round = r.round and person_id = p_person;
  select name into strict signer from persons where id = p_person;
  if p_number is distinct from next_certificate() then
    raise exception 'certificate % is not the next one', p_number using errcode = 'SMCON';
  end if;
  update counters set last = last + 1 where name = 'certificate';
  insert into signatures (run_id, round, kind, person_id, name, role, meaning, method, signed_at, head, nonce,
    assessment, digest, over, engineer_id, submitted_head, reading, agrees, mismatch)
  values (p_run, r.round, 'countersign', p_person, signer, 'supervisor', p_meaning, p_method, p_signed_at, r.head, p_nonce,
    p_assessment, sha256(p_assessment), 'submit', s.person_id, s.head, coalesce(v_reading, ''), p_agrees, p_mismatch);
  select number into v_previous from releases c where unit = r.unit
    and not exists (select 1 from releases n where n.unit = c.unit and n.previous = c.number);
  insert into releases (number, run_id, round, unit, site_id, line, engineer, supervisor, lots, released_at, valid_until,
    previous, document, digest)
  values (p_number, p_run, r.round, r.unit, r.site_id, p_line, s.name, signer, p_lots, p_signed_at, p_valid_until,
    v_previous, p_document, sha256(p_document));
  if v_previous is not null then
    insert into certificate_status (number, status, at, person_id, name, reason, successor)
    values (v_previous, 'superseded', p_signed_at, p_person, signer, 'a newer release of the unit', p_number);
  end if;
  update runs set state = 'released' where id = p_run returning * into r;
  perform note_run(r, 'run released', p_person, p_signed_at, p_number, 'run ' || code('R', r.number));
  perform pg_notify('settlemark_releases', p_number);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function store_pdf(p_number text, p_pdf bytea)
returns void language sql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  insert into certificate_pdfs (number, pdf, digest) values (p_number, p_pdf, sha256(p_pdf)) on conflict (number) do nothing;
  select pg_notify('settlemark_runs', run_id::text) from releases where number = p_number;
$$;
-- +goose StatementEnd

-- +goose StatementBegin
create function withdraw_certificate(p_number text, p_person text, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; c certificate_status;
begin
  select * into r from runs where id = (select run_id from releases where number = p_number) for no key update;
  if not found then
    raise exception 'There is no certificate %.', p_number using errcode = 'SMNOT';
  end if;
  select * into c from certificate_status where number = p_number and status = 'withdrawn';
  if found then
    if (c.person_id, c.reason) = (p_person, p_reason) then
      return;
    end if;
    raise exception 'Certificate % was withdrawn before, by %.', p_number, c.name using errcode = 'SMCON';
  end if;
  if not exists (select 1 from grants g join persons p on p.id = g.person_id
      where p.id = p_person and p.disabled_at is null and g.role = 'quality') then
    raise exception 'Only quality may withdraw a certificate.' using errcode = 'SMFOR';
  end if;
  insert into certificate_status (number, status, at, person_id, name, reason)
  select p_number, 'withdrawn', p_at, p.id, p.name, p_reason from persons p where p.id = p_person;
  perform note_run(r, 'certificate withdrawn', p_person, p_at, p_number, p_reason);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function add_procedure(p_key text, p_revision integer, p_yaml text, p_author text, p_demo boolean, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare kept text;
begin
  select yaml into kept from procedures where key = p_key and revision = p_revision;
  if kept = p_yaml then
    return;
  end if;
  if kept is not null then
    raise exception 'Revision % of % exists with other content. Give yours the next number.', p_revision, p_key using errcode = 'SMCON';
  end if;
  insert into procedures (key, revision, yaml, digest, author_id, demo, added_at)
  values (p_key, p_revision, p_yaml, sha256(convert_to(p_yaml, 'UTF8')), p_author, p_demo, p_at);
  insert into acts (key, at, person_id, name, act, subject, detail)
  values (gen_random_uuid(), p_at, p_author, coalesce((select name from persons where id = p_author), ''),
    'procedure added', p_key, 'revision ' || p_revision);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function approve_procedure(p_key text, p_revision integer, p_person text, p_method text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare a procedure_approvals; author text;
begin
  select author_id into author from procedures where key = p_key and revision = p_revision for key share;
  if not found then
    raise exception 'There is no such revision.' using errcode = 'SMNOT';
  end if;
  select * into a from procedure_approvals where key = p_key and revision = p_revision;
  if a.person_id = p_person then
    return;
  elsif found then
    raise exception '% approved this revision before.', a.name using errcode = 'SMCON';
  end if;
  if not exists (select 1 from grants g join persons p on p.id = g.person_id
      where p.id = p_person and p.disabled_at is null and g.role = 'quality') then
    raise exception 'Only quality may approve a procedure.' using errcode = 'SMFOR';
  end if;
  if author = p_person then
    raise exception 'You wrote this revision. Someone else in quality must approve it.' using errcode = 'SMFOR';
  end if;
  insert into procedure_approvals (key, revision, person_id, name, method, approved_at)
  select p_key, p_revision, p.id, p.name, p_method, p_at from persons p where p.id = p_person;
  insert into acts (key, at, person_id, name, act, subject, detail)
  select gen_random_uuid(), p_at, p.id, p.name, 'procedure approved', p_key, 'revision ' || p_revision from persons p where p.id = p_person;
end $$;
-- +goose StatementEnd
