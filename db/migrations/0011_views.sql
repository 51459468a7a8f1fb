-- +goose Up
-- Runs and certificates as the pages read them.

create view run_rows as
select r.id::text as id, r.number, r.unit, r.site_id as site, r.procedure, r.revision, r.state, r.round, r.seq, r.head,
  convert_from(r.opening, 'UTF8')::jsonb->'unit'->>'line' as line,
  convert_from(r.opening, 'UTF8')::jsonb->>'bench' as bench,
  r.opened_at, r.opened_by, r.pen, r.demo,
  s.signed_at as submitted_at, c.released_at,
  t.returned_at, coalesce(t.reason, '') as return_reason,
  a.abandoned_at, coalesce(a.reason, '') as end_reason, coalesce(c.number, '') as certificate
from runs r
left join signatures s on s.run_id = r.id and s.round = r.round and s.kind = 'submit'
left join releases c on c.run_id = r.id
left join returns t on t.run_id = r.id and t.round = r.round - 1
left join abandonments a on a.run_id = r.id;

create view certificate_rows as
select c.number, c.run_id::text as run, r.number as run_number, c.unit, c.site_id as site,
  d->'site'->>'name' as site_name, d->'site'->>'time_zone' as time_zone, c.line, c.engineer, c.supervisor,
  c.released_at, c.valid_until, coalesce(s.successor, '') as superseded_by,
  w.at as withdrawn_at, coalesce(w.name, '') as withdrawn_by, coalesce(w.reason, '') as withdrawn_for,
  c.lots, p.number is not null as has_pdf, coalesce(encode(p.digest, 'hex'), '') as pdf_hash, r.demo
from releases c
join runs r on r.id = c.run_id
cross join lateral (select convert_from(r.opening, 'UTF8')::jsonb as d) as o
left join certificate_status s on s.number = c.number and s.status = 'superseded'
left join certificate_status w on w.number = c.number and w.status = 'withdrawn'
left join certificate_pdfs p on p.number = c.number;
