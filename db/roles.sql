-- What the login that serves may do; run after the migrations, each time.
-- The login's name is in settlemark.app_role. It may read everything, execute
-- the functions that append, and write only what is not evidence.
do $$
declare
  app text := quote_ident(current_setting('settlemark.app_role'));
  name text;
begin
  execute format('revoke all on database %I from public', current_database());
  execute format('grant connect on database %I to %s', current_database(), app);
  revoke all on schema public from public;
  revoke all on schema settlemark from public;
  revoke all on all functions in schema settlemark from public;
  revoke all on all procedures in schema settlemark from public;

  execute 'revoke all on all tables in schema settlemark from ' || app;
  execute 'revoke all on all functions in schema settlemark from ' || app;
  execute 'grant usage on schema settlemark to ' || app;
  execute 'grant select on all tables in schema settlemark to ' || app;

  foreach name in array array['trail_leaf', 'run_changes', 'note_change', 'lock_run', 'open_run', 'append_post', 'hear_record', 'keep_record', 'set_record_aside', 'store_photo', 'take_pen', 'abandon_run',
      'submit_run', 'read_sample', 'return_run', 'next_certificate', 'countersign_run', 'store_pdf',
      'withdraw_certificate', 'record_unit_event', 'recall_certificates', 'lot_key', 'entry_lot', 'add_procedure', 'approve_procedure',
      'reject_procedure', 'retire_procedure', 'start_draft', 'save_draft', 'discard_draft', 'submit_draft', 'note_register', 'note_change', 'code',
      'may', 'human', 'lock_log', 'grow_log', 'seal_log', 'cosign_log', 'publish_log', 'stop_log', 'open_log', 'add_log_key', 'store_status_list', 'store_stamp',
      'keep_assertion', 'let_in_until', 'erase_person', 'shown'] loop
    execute format('grant execute on function %I to %s', name, app);
  end loop;

  execute 'grant insert (name, address, time_zone, paper, language, units, demo), update (name, address, time_zone, paper, language, units) on sites to ' || app;
  execute 'grant insert (site_id, name), update (name) on lines, benches to ' || app;
  execute 'grant insert, update (name, position, base, figures) on fluids to ' || app;
  execute 'grant insert (site_id, code, name, serial, quantity, uncertainty, unit, k, due), '
    'update (name, serial, quantity, uncertainty, unit, k, due) on instruments to ' || app;
  execute 'grant insert, update (line_id, serial, ink, makeup) on units to ' || app;
  execute 'grant insert (name, login), update (name, password, wrong_proofs, disabled_at, same_as, language, units) on persons to ' || app;
  execute 'grant insert, delete on grants, logger_units to ' || app;
  execute 'grant insert (name, site_id, quantities), update (name, quantities) on loggers to ' || app;
  execute 'grant insert (id, logger_id, scope, token_hash, made_at, expires_at), update (ended_at, used_at, offset_ms) on logger_tokens to ' || app;
  execute 'grant insert (id, name, site_id, token_hash, made_at, expires_at), update (token_hash, opened_at, ended_at, used_at) on hall_screens to ' || app;
  execute 'grant insert, update (mapping, saved_by, saved_at) on import_mappings to ' || app;
  execute 'grant insert, update (used_at, used_by, expires_at) on invites to ' || app;
  execute 'grant insert, update, delete on throttles, sessions, code_seeds, recovery_codes, passkeys, identities to ' || app;
  execute 'grant insert (run_id, key, event, at, text, people) on notices to ' || app;
  execute 'grant insert, update, delete on mail_wishes to ' || app;
  execute 'grant usage on sequence person_codes, logger_codes to ' || app;

  -- The queue of jobs is work to do, not evidence.
  execute 'revoke all on schema river from public';
  execute 'grant usage on schema river to ' || app;
  execute 'grant select, insert, update, delete on river.river_job, river.river_leader, river.river_queue, river.river_notification to ' || app;
  execute 'grant select on river.river_migration to ' || app;
  execute 'grant usage on all sequences in schema river to ' || app;
  execute 'revoke all on all functions in schema river from public';
  execute 'grant execute on all functions in schema river to ' || app;
end $$;
