-- +goose Up
-- A person hands in 500 photos a day at most, so that nobody fills the disk by
-- opening run after run.
create index photos_person on photos (person_id, stored_at);

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
  if (select count(*) from photos where person_id = p_person and stored_at > clock_timestamp() - interval '1 day') >= 500 then
    raise exception 'You handed in 500 photos within a day, which is the most there may be. Go on tomorrow.' using errcode = 'SMCON';
  end if;
  insert into photos (run_id, digest, original, media_type, width, height, bytes, person_id)
  values (p_run, sha256(p_bytes), p_original, p_media_type, p_width, p_height, p_bytes, p_person);
  insert into contributors (run_id, person_id) values (p_run, p_person) on conflict do nothing;
end $$;
-- +goose StatementEnd
