-- +goose Up
-- Somebody who left can be erased from the registers that are no evidence: what
-- stays under the code is a pseudonym. Printed names of the record stay.
-- A login is never given to another person, also not one that nobody can read any more.
alter table persons add column erased_at timestamptz, add column erased_login bytea;
insert into register_acts values ('name erased');

-- erase_person puts a pseudonym in place of name and login and drops every proof of
-- identity; false when access did not end, a run goes on, or it was done before.
-- +goose StatementBegin
create function erase_person(p_person text, p_at timestamptz)
returns boolean language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  update persons set name = 'Person ' || id, login = 'erased ' || lower(id), erased_login = sha256(convert_to(login, 'UTF8')), password = null, language = '', units = '', erased_at = p_at
  where id = p_person and disabled_at is not null and erased_at is null
    and not exists (select 1 from runs r where r.state in ('open', 'submitted') and (r.opened_by = p_person or r.pen = p_person
      or exists (select 1 from contributors c where c.run_id = r.id and c.person_id = p_person)));
  if not found then
    return false;
  end if;
  delete from code_seeds where person_id = p_person;
  delete from recovery_codes where person_id = p_person;
  delete from passkeys where person_id = p_person;
  delete from identities where person_id = p_person;
  delete from mail_wishes where person_id = p_person;
  return true;
end $$;
-- +goose StatementEnd

-- What an act says of people as it may still be shown: a name that was erased, and
-- what was noted about its bearer, are not.
-- +goose StatementBegin
create function shown(p_act acts) returns acts language plpgsql stable as $$
begin
  p_act.name := coalesce((select name from persons where id = p_act.person_id and erased_at is not null), p_act.name);
  if p_act.act <> 'name erased' and exists (select 1 from persons where id = p_act.subject and erased_at is not null) then
    p_act.detail := '';
    p_act.was := '';
    p_act.became := '';
  end if;
  return p_act;
end $$;
-- +goose StatementEnd

-- +goose StatementBegin
create function refuse_erased_login() returns trigger language plpgsql as $$
begin
  if exists (select 1 from persons where erased_login = sha256(convert_to(new.login, 'UTF8'))) then
    raise exception 'this login was erased' using errcode = 'unique_violation';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger refuse_erased_login before insert on persons for each row execute function refuse_erased_login();
