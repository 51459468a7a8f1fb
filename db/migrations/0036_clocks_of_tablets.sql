-- +goose Up
-- A tablet compares the clock that people can turn with one that nobody can. When
-- they went apart by more than two seconds since its offset was measured, its
-- record says by how much, and the trail of the run does.

alter table tablet_records add column jump_ms bigint; -- null where the clock went on as it should

drop function keep_record(uuid, text, text, integer, uuid, bytea, bytea, bigint, text);

-- +goose StatementBegin
create function keep_record(p_run uuid, p_person text, p_device text, p_n integer, p_key uuid, p_previous bytea, p_digest bytea,
  p_offset bigint, p_jump bigint, p_app text, p_at timestamptz)
returns void language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare r runs;
begin
  insert into tablet_records (run_id, person_id, device, n, key, previous, digest, offset_ms, jump_ms, app)
  values (p_run, p_person, p_device, p_n, p_key, p_previous, p_digest, p_offset, p_jump, p_app);
  if p_jump is not null then
    r := lock_run(p_run);
    perform note_run(r, 'run clock changed', p_person, p_at, code('R', r.number),
      p_device || ', by ' || round(p_jump / 1000.0) || ' s before record ' || p_n);
  end if;
end $$;
-- +goose StatementEnd
