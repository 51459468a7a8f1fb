-- +goose Up
-- The acts that note_register takes, one row each, so that a later migration
-- adds a name without writing the function anew.
create table register_acts (act text primary key);
insert into register_acts values
  ('site saved'), ('line saved'), ('bench saved'), ('instrument saved'), ('fluid saved'), ('unit saved'), ('logger saved'),
  ('change proposed'), ('person added'), ('roles changed'), ('person disabled'), ('invite made'), ('password set'),
  ('first administrator'), ('password changed'), ('authenticator app added'), ('authenticator app removed'), ('passkey added'),
  ('passkey removed'), ('recovery codes made'), ('recovery code used'), ('second factors void'), ('identity linked'),
  ('identity unlinked'), ('persons joined'), ('five wrong proofs');

-- +goose StatementBegin
create or replace function note_register(p_key uuid, p_act text, p_person text, p_at timestamptz,
  p_site bigint, p_unit text, p_subject text, p_detail text)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if not exists (select 1 from register_acts where act = p_act) then
    raise exception 'no such act: %', p_act using errcode = 'SMFOR';
  end if;
  insert into acts (key, at, person_id, name, act, site_id, unit, subject, detail)
  values (p_key, p_at, p_person, coalesce((select name from persons where id = p_person), ''),
    p_act, p_site, p_unit, p_subject, p_detail)
  on conflict (key) do nothing;
end $$;
-- +goose StatementEnd
