-- +goose Up
-- A run begins under the newest approved revision of its procedure; those that
-- run already stay on theirs.
-- +goose StatementBegin
create function refuse_superseded() returns trigger language plpgsql security definer set search_path = pg_catalog, settlemark, pg_temp as $$
declare newest integer;
begin
  select max(revision) into newest from procedure_approvals where key = new.procedure;
  if newest > new.revision then
    raise exception 'Revision % of this procedure is approved by now. Choose that one.', newest using errcode = 'SMCON';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger refuse_superseded before insert on runs for each row execute function refuse_superseded();
alter table runs enable always trigger refuse_superseded;
