-- +goose Up
-- Second factors of people: an authenticator app, recovery codes, passkeys.
create table code_seeds (
  person_id text primary key references persons (id),
  seed      bytea,                    -- sealed with the key file; null until a first code was right
  offered   bytea,                    -- sealed; shown, and in use from its first right code on
  last_step bigint not null default 0, -- of the newest code that was used: each is good once
  last_use  bytea                      -- for what it was used, so that the same form again is the same act
);

create table recovery_codes (
  person_id text not null references persons (id),
  code_hash bytea not null,
  used_at   timestamptz,
  used_for  bytea,
  primary key (person_id, code_hash)
);

create table passkeys (
  id         bytea primary key,       -- so a passkey belongs to one person
  person_id  text not null references persons (id),
  name       text not null check (name <> ''),
  public_key bytea not null,          -- COSE
  rp         text not null,           -- the host for which it was made
  count      bigint not null,         -- of the device's signatures
  added_at   timestamptz not null,
  used_at    timestamptz
);
create index passkeys_by_person on passkeys (person_id);

-- What passkeys signed, each once, with all that is needed to check it again.
create table assertions (
  nonce     text primary key check (nonce <> ''),
  person_id text not null references persons (id),
  content   bytea not null check (length(content) = 32),
  body      bytea not null,           -- canonical JSON
  stored_at timestamptz not null default clock_timestamp()
);
call make_append_only('assertions');

-- +goose StatementBegin
create function keep_assertion(p_nonce text, p_person text, p_content bytea, p_body bytea)
returns boolean language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if exists (select 1 from assertions where nonce = p_nonce and person_id = p_person and content = p_content and body = p_body) then
    return false;
  end if;
  insert into assertions (nonce, person_id, content, body) values (p_nonce, p_person, p_content, p_body);
  return true;
end $$;
-- +goose StatementEnd

-- What a one-time code lets its holder set anew; what it does not is asked for.
alter table invites add resets text not null default 'both' check (resets in ('password', 'factors', 'both'));

-- Two entries that turn out to be one human being: this one is that one.
alter table persons add same_as text references persons (id), add check (same_as <> id);

create function human(p_person text) returns text language sql stable as
$$ select coalesce(same_as, id) from persons where id = p_person $$;

-- check_second_person as before, by human being.
-- +goose StatementBegin
create or replace function check_second_person(r runs, p_person text) returns void language plpgsql as $$
begin
  if r.state <> 'submitted' then
    raise exception 'Run % is %, not waiting for a countersignature.', code('R', r.number), r.state using errcode = 'SMCON';
  end if;
  if not may(p_person, 'supervisor', r.site_id) then
    raise exception 'Only a supervisor of this site may do that.' using errcode = 'SMFOR';
  end if;
  if exists (select 1 from contributors where run_id = r.id and human(person_id) = human(p_person)) then
    raise exception 'You worked on this run. Someone else must sign.' using errcode = 'SMFOR';
  end if;
end $$;
-- +goose StatementEnd

-- Nobody makes a countersigner for work of their own: whoever was let in or
-- given new proofs by somebody with a part in the run waits a day.
-- +goose StatementBegin
create function check_countersigner() returns trigger language plpgsql
security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if exists (select 1 from contributors where run_id = new.run_id and human(person_id) = human(new.person_id)) then
    raise exception 'You worked on this run. Someone else must sign.' using errcode = 'SMFOR';
  end if;
  if exists (select 1 from acts a join contributors c on c.run_id = new.run_id and human(c.person_id) = human(a.person_id)
      where a.subject = new.person_id and a.at > new.signed_at - interval '24 hours'
        and a.act = any (array['person added', 'roles changed', 'invite made', 'identity linked'])) then
    raise exception 'Somebody who worked on this run gave you access or new proofs of identity less than 24 hours ago. Wait, or let someone else countersign.' using errcode = 'SMFOR';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger countersigner before insert on signatures for each row
  when (new.kind = 'countersign') execute function check_countersigner();
alter table signatures enable always trigger countersigner;

-- note_register as before, with what happens to proofs of identity.
-- +goose StatementBegin
create or replace function note_register(p_key uuid, p_act text, p_person text, p_at timestamptz,
  p_site bigint, p_unit text, p_subject text, p_detail text)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if not p_act = any (array['site saved', 'line saved', 'bench saved', 'instrument saved', 'fluid saved', 'unit saved',
    'logger saved', 'change proposed', 'person added', 'roles changed', 'person disabled', 'invite made', 'password set',
    'first administrator', 'password changed', 'authenticator app added', 'authenticator app removed', 'passkey added',
    'passkey removed', 'recovery codes made', 'recovery code used', 'second factors void', 'identity linked',
    'identity unlinked', 'persons joined', 'five wrong proofs']) then
    raise exception 'no such act: %', p_act using errcode = 'SMFOR';
  end if;
  insert into acts (key, at, person_id, name, act, site_id, unit, subject, detail)
  values (p_key, p_at, p_person, coalesce((select name from persons where id = p_person), ''),
    p_act, p_site, p_unit, p_subject, p_detail)
  on conflict (key) do nothing;
end $$;
-- +goose StatementEnd

-- The site's own sign-in: who it says somebody is, by issuer and subject.
create table identities (
  issuer    text not null check (issuer <> ''),
  subject   text not null check (subject <> ''),
  person_id text not null references persons (id),
  linked_at timestamptz not null,
  primary key (issuer, subject)
);
create index identities_by_person on identities (person_id);
