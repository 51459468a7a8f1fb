-- +goose Up
-- Reading who did what when, over all runs, newest first.
create index entries_by_instant on entries (received_at, run_id, seq);
create index acts_by_instant on acts (stored_at, id);

-- What a register held before an act and after it, as JSON; '' where nothing
-- was, or where the act changes no register.
alter table acts add column was text not null default '', add column became text not null default '';

-- note_change is note_register for acts that change what a register holds.
-- +goose StatementBegin
create function note_change(p_key uuid, p_act text, p_person text, p_at timestamptz,
  p_site bigint, p_unit text, p_subject text, p_detail text, p_was text, p_became text)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if p_act not like '% saved' and p_act not in ('roles changed', 'person added', 'person disabled') then
    raise exception 'no such act: %', p_act using errcode = 'SMFOR';
  end if;
  insert into acts (key, at, person_id, name, act, site_id, unit, subject, detail, was, became)
  values (p_key, p_at, p_person, coalesce((select name from persons where id = p_person), ''),
    p_act, p_site, p_unit, p_subject, p_detail, p_was, p_became)
  on conflict (key) do nothing;
end $$;
-- +goose StatementEnd
