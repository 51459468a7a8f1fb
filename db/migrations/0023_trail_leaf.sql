-- +goose Up
-- trail_leaf gives the leaf of the log that tells of an act, or of the post that
-- an entry came in.
-- +goose StatementBegin
create function trail_leaf(p_id uuid) returns bytea language sql stable security definer
set search_path = pg_catalog, settlemark, pg_temp set timezone = 'UTC' set bytea_output = 'hex' as $$
  select row_leaf('acts', a.id::text, to_jsonb(a)) from acts a where a.key = p_id
  union all
  select convert_to('{"chain":"' || encode(p.chain, 'hex') || '","received":"' || instant(p.received_at) || '","run":"' || p.run_id
    || '","sent":"' || encode(sha256((select string_agg(o.sent_hash, ''::bytea order by o.seq) from entries o
      where o.run_id = p.run_id and o.post_seq = p.last_seq)), 'hex') || '","seq":' || p.last_seq || ',"t":"entry/1"}', 'UTF8')
  from entries e join posts p on p.run_id = e.run_id and p.last_seq = e.post_seq where e.id = p_id
$$;
-- +goose StatementEnd
