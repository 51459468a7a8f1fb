-- +goose Up
-- When somebody whom a contributor of the run let in, or gave new proofs of
-- identity, may countersign it; null when nothing of it is in the way.
create function let_in_until(p_run uuid, p_person text, p_at timestamptz) returns timestamptz language sql stable
security definer set search_path = pg_catalog, settlemark, pg_temp as $$
  select max(a.at) + interval '24 hours'
  from acts a join contributors c on c.run_id = p_run and human(c.person_id) = human(a.person_id)
  where a.subject = p_person and a.at > p_at - interval '24 hours'
    and a.act = any (array['person added', 'roles changed', 'invite made', 'identity linked'])
$$;

-- check_countersigner as before.
-- +goose StatementBegin
create or replace function check_countersigner() returns trigger language plpgsql
security definer set search_path = pg_catalog, settlemark, pg_temp as $$
begin
  if exists (select 1 from contributors where run_id = new.run_id and human(person_id) = human(new.person_id)) then
    raise exception 'You worked on this run. Someone else must sign.' using errcode = 'SMFOR';
  end if;
  if let_in_until(new.run_id, new.person_id, new.signed_at) is not null then
    raise exception 'Somebody who worked on this run gave you access or new proofs of identity less than 24 hours ago. Wait, or let someone else countersign.' using errcode = 'SMFOR';
  end if;
  return new;
end $$;
-- +goose StatementEnd

-- The board shows who was tried.
create index acts_of_wrong_proofs on acts (at) where act = 'five wrong proofs';
