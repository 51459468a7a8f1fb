-- +goose Up
-- note_register as before, with the act of proposing a change.
-- +goose StatementBegin
create or replace function note_register(p_key uuid, p_act text, p_person text, p_at timestamptz,
  p_site bigint, p_unit text, p_subject text, p_detail text)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if not p_act = any (array['site saved', 'line saved', 'bench saved', 'instrument saved', 'fluid saved', 'unit saved',
    'logger saved', 'change proposed', 'person added', 'roles changed', 'person disabled', 'invite made', 'password set',
    'first administrator']) then
    raise exception 'no such act: %', p_act using errcode = 'SMFOR';
  end if;
  insert into acts (key, at, person_id, name, act, site_id, unit, subject, detail)
  values (p_key, p_at, p_person, coalesce((select name from persons where id = p_person), ''),
    p_act, p_site, p_unit, p_subject, p_detail)
  on conflict (key) do nothing;
end $$;
-- +goose StatementEnd
