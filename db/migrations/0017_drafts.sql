-- +goose Up
-- Procedures as controlled documents: drafts that people work on, the revisions
-- that they become, and what quality says of those.

alter table procedures
  add column reason text not null default '',   -- for the change; '' when it came with the product
  add column base integer;                      -- the revision that it was drafted from

-- Everybody who changed the draft of a revision. None of them may approve it.
create table procedure_authors (
  key       text not null,
  revision  integer not null,
  person_id text not null references persons (id),
  name      text not null,
  primary key (key, revision, person_id),
  foreign key (key, revision) references procedures (key, revision)
);

create table procedure_rejections (
  key         text not null,
  revision    integer not null,
  person_id   text not null references persons (id),
  name        text not null,
  reason      text not null check (reason <> ''),
  rejected_at timestamptz not null,
  stored_at   timestamptz not null default clock_timestamp(),
  primary key (key, revision),
  foreign key (key, revision) references procedures (key, revision)
);

-- A retirement covers the revisions that there were. One that quality approves
-- later brings the procedure back.
create table procedure_retirements (
  key        text not null,
  up_to      integer not null,
  person_id  text not null references persons (id),
  name       text not null,
  reason     text not null check (reason <> ''),
  retired_at timestamptz not null,
  stored_at  timestamptz not null default clock_timestamp(),
  primary key (key, up_to),
  foreign key (key, up_to) references procedures (key, revision)
);

call make_append_only('procedure_authors', 'procedure_rejections', 'procedure_retirements');

insert into procedure_authors (key, revision, person_id, name)
select p.key, p.revision, w.id, w.name from procedures p join persons w on w.id = p.author_id;

-- A draft is working text and no evidence: one at most for each procedure. The
-- version keeps two pages from writing over one another.
create table procedure_drafts (
  id         bigint generated always as identity primary key,
  key        text not null unique,
  base       integer,                           -- null: a new procedure
  text       text not null check (octet_length(text) <= 1048576),
  version    integer not null default 1,
  started_by text not null references persons (id),
  started_at timestamptz not null,
  changed_by text not null references persons (id),
  changed_at timestamptz not null
);

create table procedure_draft_authors (
  draft_id  bigint not null references procedure_drafts (id) on delete cascade,
  person_id text not null references persons (id),
  primary key (draft_id, person_id)
);

-- holds says whether an active person holds one of the roles anywhere.
-- +goose StatementBegin
create function holds(p_person text, variadic p_roles text[]) returns boolean language sql stable as $$
  select exists (select 1 from grants g join persons p on p.id = g.person_id
    where p.id = p_person and p.disabled_at is null and g.role = any (p_roles))
$$;
-- +goose StatementEnd

-- note_procedure writes an act on a procedure.
-- +goose StatementBegin
create function note_procedure(p_act text, p_person text, p_at timestamptz, p_key text, p_detail text)
returns void language sql as $$
  insert into acts (key, at, person_id, name, act, subject, detail)
  select gen_random_uuid(), p_at, p.id, p.name, p_act, p_key, p_detail from persons p where p.id = p_person
$$;
-- +goose StatementEnd

-- +goose StatementBegin
create function check_drafter(p_person text) returns void language plpgsql as $$
begin
  if not holds(p_person, 'engineer', 'supervisor', 'quality') then
    raise exception 'Only engineers, supervisors and quality draft procedures.' using errcode = 'SMFOR';
  end if;
end $$;
-- +goose StatementEnd

-- check_draft locks a draft of that version.
-- +goose StatementBegin
create function check_draft(p_draft bigint, p_version integer) returns procedure_drafts language plpgsql as $$
declare d procedure_drafts;
begin
  select * into d from procedure_drafts where id = p_draft for update;
  if not found then
    raise exception 'This draft was submitted or thrown away. Look under Procedures what became of it.' using errcode = 'SMNOT';
  end if;
  if d.version <> p_version then
    raise exception '% saved this draft after your page was made. What you typed is still here, not saved.',
      (select name from persons where id = d.changed_by) using errcode = 'SMCON';
  end if;
  return d;
end $$;
-- +goose StatementEnd

-- start_draft gives the draft of the procedure, a new one where there is none.
-- +goose StatementBegin
create function start_draft(p_key text, p_base integer, p_text text, p_person text, p_at timestamptz)
returns bigint language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare d procedure_drafts;
begin
  perform check_drafter(p_person);
  select * into d from procedure_drafts where key = p_key;
  if found and (p_base is not null or d.started_by = p_person and d.base is null) then
    return d.id;
  elsif found or p_base is null and exists (select 1 from procedures where key = p_key) then
    raise exception 'There is a procedure with the key %. Draft a revision of it, or choose another key.', p_key using errcode = 'SMCON';
  elsif p_base is not null and not exists (select 1 from procedures where key = p_key and revision = p_base) then
    raise exception 'There is no such revision.' using errcode = 'SMNOT';
  end if;
  insert into procedure_drafts (key, base, text, started_by, started_at, changed_by, changed_at)
  values (p_key, p_base, p_text, p_person, p_at, p_person, p_at) returning * into d;
  insert into procedure_draft_authors (draft_id, person_id) values (d.id, p_person);
  perform note_procedure('procedure draft started', p_person, p_at, p_key, coalesce('from revision ' || p_base, 'a new procedure'));
  return d.id;
end $$;
-- +goose StatementEnd

-- save_draft gives the version that is stored now. The same text again does nothing.
-- +goose StatementBegin
create function save_draft(p_draft bigint, p_version integer, p_text text, p_person text, p_at timestamptz)
returns integer language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare d procedure_drafts;
begin
  perform check_drafter(p_person);
  select * into d from procedure_drafts where id = p_draft and text = p_text;
  if found then
    return d.version;
  end if;
  d := check_draft(p_draft, p_version);
  update procedure_drafts set text = p_text, version = version + 1, changed_by = p_person, changed_at = p_at where id = p_draft;
  insert into procedure_draft_authors (draft_id, person_id) values (p_draft, p_person) on conflict do nothing;
  return d.version + 1;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function discard_draft(p_draft bigint, p_version integer, p_person text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare d procedure_drafts;
begin
  d := check_draft(p_draft, p_version);
  if not holds(p_person, 'quality') and not (holds(p_person, 'engineer', 'supervisor') and
      exists (select 1 from procedure_draft_authors where draft_id = p_draft and person_id = p_person)) then
    raise exception 'Only who worked on this draft, or quality, may throw it away.' using errcode = 'SMFOR';
  end if;
  perform note_procedure('procedure draft thrown away', p_person, p_at, d.key, 'version ' || d.version);
  delete from procedure_drafts where id = p_draft;
end $$;
-- +goose StatementEnd

-- submit_draft makes the draft the next revision, for quality to approve.
-- +goose StatementBegin
create function submit_draft(p_draft bigint, p_version integer, p_person text, p_key text, p_revision integer, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare d procedure_drafts; n integer;
begin
  perform check_drafter(p_person);
  perform 1 from procedure_drafts where id = p_draft;
  if not found and exists (select 1 from procedures where key = p_key and revision = p_revision and author_id = p_person and reason = p_reason) then
    return;
  end if;
  d := check_draft(p_draft, p_version);
  select coalesce(max(revision), 0) + 1 into n from procedures where key = d.key;
  if p_key <> d.key or p_revision <> n then
    raise exception 'This draft is to be % revision %. Set key and revision so in the YAML.', d.key, n using errcode = 'SMINV';
  end if;
  insert into procedures (key, revision, yaml, digest, author_id, demo, added_at, reason, base)
  values (d.key, n, d.text, sha256(convert_to(d.text, 'UTF8')), p_person,
    coalesce((select demo from procedures where key = d.key and revision = d.base), false), p_at, p_reason, d.base);
  insert into procedure_draft_authors (draft_id, person_id) values (p_draft, p_person) on conflict do nothing;
  insert into procedure_authors (key, revision, person_id, name)
  select d.key, n, p.id, p.name from procedure_draft_authors a join persons p on p.id = a.person_id where a.draft_id = p_draft;
  delete from procedure_drafts where id = p_draft;
  perform note_procedure('procedure submitted', p_person, p_at, d.key, 'revision ' || n || ': ' || p_reason);
end $$;
-- +goose StatementEnd

-- add_procedure as before, with its author among the authors.
-- +goose StatementBegin
create or replace function add_procedure(p_key text, p_revision integer, p_yaml text, p_author text, p_demo boolean, p_at timestamptz)
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
  insert into procedure_authors (key, revision, person_id, name)
  select p_key, p_revision, id, name from persons where id = p_author;
  insert into acts (key, at, person_id, name, act, subject, detail)
  values (gen_random_uuid(), p_at, p_author, coalesce((select name from persons where id = p_author), ''),
    'procedure added', p_key, 'revision ' || p_revision);
end $$;
-- +goose StatementEnd

-- lock_revision gives a revision to one decision at a time: quality only.
-- +goose StatementBegin
create function lock_revision(p_key text, p_revision integer, p_person text) returns void language plpgsql as $$
begin
  perform 1 from procedures where key = p_key and revision = p_revision for update;
  if not found then
    raise exception 'There is no such revision.' using errcode = 'SMNOT';
  end if;
  if not holds(p_person, 'quality') then
    raise exception 'Only quality decides on a procedure revision.' using errcode = 'SMFOR';
  end if;
end $$;
-- +goose StatementEnd

-- approve_procedure as before, against everybody who changed the draft, and
-- not after a rejection.
-- +goose StatementBegin
create or replace function approve_procedure(p_key text, p_revision integer, p_person text, p_method text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare a procedure_approvals; r procedure_rejections;
begin
  perform lock_revision(p_key, p_revision, p_person);
  select * into a from procedure_approvals where key = p_key and revision = p_revision;
  if a.person_id = p_person then
    return;
  elsif found then
    raise exception '% approved this revision before.', a.name using errcode = 'SMCON';
  end if;
  select * into r from procedure_rejections where key = p_key and revision = p_revision;
  if found then
    raise exception '% rejected this revision. A new one has to be drafted.', r.name using errcode = 'SMCON';
  end if;
  if exists (select 1 from procedure_authors where key = p_key and revision = p_revision and person_id = p_person) then
    raise exception 'You wrote this revision. Someone else in quality must approve it.' using errcode = 'SMFOR';
  end if;
  insert into procedure_approvals (key, revision, person_id, name, method, approved_at)
  select p_key, p_revision, p.id, p.name, p_method, p_at from persons p where p.id = p_person;
  perform note_procedure('procedure approved', p_person, p_at, p_key, 'revision ' || p_revision);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function reject_procedure(p_key text, p_revision integer, p_person text, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r procedure_rejections;
begin
  perform lock_revision(p_key, p_revision, p_person);
  select * into r from procedure_rejections where key = p_key and revision = p_revision;
  if r.person_id = p_person and r.reason = p_reason then
    return;
  elsif found then
    raise exception '% rejected this revision before.', r.name using errcode = 'SMCON';
  end if;
  if exists (select 1 from procedure_approvals where key = p_key and revision = p_revision) then
    raise exception 'This revision is approved. Retire the procedure instead, or draft the next revision.' using errcode = 'SMCON';
  end if;
  insert into procedure_rejections (key, revision, person_id, name, reason, rejected_at)
  select p_key, p_revision, p.id, p.name, p_reason, p_at from persons p where p.id = p_person;
  perform note_procedure('procedure rejected', p_person, p_at, p_key, 'revision ' || p_revision || ': ' || p_reason);
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function retire_procedure(p_key text, p_person text, p_reason text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare n integer; r procedure_retirements;
begin
  select max(revision) into n from procedures where key = p_key;
  perform lock_revision(p_key, n, p_person);
  select * into r from procedure_retirements where key = p_key and up_to = n;
  if r.person_id = p_person and r.reason = p_reason then
    return;
  elsif found then
    raise exception '% retired this procedure before.', r.name using errcode = 'SMCON';
  end if;
  insert into procedure_retirements (key, up_to, person_id, name, reason, retired_at)
  select p_key, n, p.id, p.name, p_reason, p_at from persons p where p.id = p_person;
  perform note_procedure('procedure retired', p_person, p_at, p_key, 'up to revision ' || n || ': ' || p_reason);
end $$;
-- +goose StatementEnd

-- refuse_retired stops a run under a retired revision, however it is opened.
-- +goose StatementBegin
create function refuse_retired() returns trigger language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if exists (select 1 from procedure_retirements where key = new.procedure and up_to >= new.revision) then
    raise exception 'This procedure is retired. Choose another one.' using errcode = 'SMCON';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger refuse_retired before insert on runs for each row execute function refuse_retired();
alter table runs enable always trigger refuse_retired;
