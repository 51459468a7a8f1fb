-- +goose Up
-- A photo that a tablet took while it was without the server comes after the pen
-- has gone over, or after the run was abandoned, as its entry may. Whoever took
-- part may still hand it in: the bytes alone count for nothing.

-- +goose StatementBegin
create or replace function store_photo(p_run uuid, p_person text, p_original bytea, p_media_type text,
  p_width integer, p_height integer, p_bytes bytea)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs; took_part boolean;
begin
  r := lock_run(p_run);
  if exists (select 1 from photos where run_id = p_run and digest = sha256(p_bytes)) then
    return;
  end if;
  took_part := exists (select 1 from contributors where run_id = p_run and person_id = p_person);
  if r.state <> 'abandoned' or not took_part then
    perform check_author(r, p_person, null, array[case when took_part then 'note' else 'photo' end]);
  end if;
  if (select count(*) from photos where run_id = p_run) >= 60 then
    raise exception 'This run has 60 photos already, which is the most it can hold.' using errcode = 'SMCON';
  end if;
  insert into photos (run_id, digest, original, media_type, width, height, bytes, person_id)
  values (p_run, sha256(p_bytes), p_original, p_media_type, p_width, p_height, p_bytes, p_person);
  insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
end $$;
-- +goose StatementEnd
