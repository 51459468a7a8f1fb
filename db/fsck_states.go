package db

// misfits gives a line for each row that does not fit the others.
const misfits = `
with signed as (
  select r.id, r.state, r.round,
    exists (select 1 from signatures s where s.run_id = r.id and s.round = r.round and s.kind = 'submit') as submitted,
    exists (select 1 from signatures s where s.run_id = r.id and s.round = r.round and s.kind = 'countersign') as countersigned,
    exists (select 1 from releases c where c.run_id = r.id and c.round = r.round) as released,
    exists (select 1 from abandonments a where a.run_id = r.id) as abandoned,
    (select count(*) from returns t where t.run_id = r.id) as returned
  from runs r
)
select format('run %s is %s in round %s: submitted %s, countersigned %s, released %s, abandoned %s, returned %s times',
  id, state, round, submitted, countersigned, released, abandoned, returned) as fault
from signed where (submitted, countersigned, released, abandoned) is distinct from
    (state in ('submitted', 'released'), state = 'released', state = 'released', state = 'abandoned')
  or returned <> round - 1
union all
select format('unit %s has %s certificates that stand', unit, count(*)) from releases c
where not exists (select 1 from certificate_status s where s.number = c.number)
group by unit having count(*) > 1
union all
select format('certificate %s is followed by %s but not superseded by it', c.previous, c.number) from releases c
where c.previous is not null and not exists (
  select 1 from certificate_status s where s.number = c.previous and s.status = 'superseded' and s.successor = c.number)
union all
select format('event %s ended certificate %s, its status says otherwise', e.id, e.voided) from unit_events e
where e.voided is not null and not exists (
  select 1 from certificate_status s where s.number = e.voided and s.status = 'withdrawn' and s.event_id = e.id and s.at = e.recorded_at)
union all
select format('certificate %s was withdrawn by event %s, which ended another', s.number, s.event_id) from certificate_status s
join unit_events e on e.id = s.event_id where e.voided is distinct from s.number
union all
select format('unit %s was released as %s after event %s, which that run had not seen', e.unit, c.number, e.id)
from unit_events e join releases c on c.unit = e.unit and c.stored_at > e.stored_at
join signatures s on s.run_id = c.run_id and s.round = c.round and s.kind = 'submit' where e.happened_at >= s.signed_at
union all
select format('recall %s left certificate %s standing', k.id, n) from recalls k cross join unnest(k.asked) as n
where not exists (select 1 from certificate_status s where s.number = n and s.status = 'withdrawn'
  and (s.recall_id is not distinct from k.id) = (n <> all (k.skipped)))
union all
select format('revision %s of %s was approved by %s, who wrote it', a.revision, a.key, a.name)
from procedure_approvals a join procedure_authors w on w.key = a.key and w.revision = a.revision and w.person_id = a.person_id
union all
select format('revision %s of %s was approved by %s and rejected by %s', a.revision, a.key, a.name, j.name)
from procedure_approvals a join procedure_rejections j on j.key = a.key and j.revision = a.revision
union all
select format('%s certificates were counted, %s exist', last, (select count(*) from releases)) from counters
where name = 'certificate' and last <> (select count(*) from releases)
union all
select format('%s runs were counted, %s exist', last, (select count(*) from runs)) from counters
where name = 'run' and last <> (select count(*) from runs)
union all
select format('run %s: %s acts "%s", expected %s', id, found, act, expected) from (
  select r.id, a.act, (select count(*) from acts x where x.run_id = r.id and x.act = a.act) as found,
    case a.act when 'run opened' then 1
      when 'run submitted' then (select count(*) from signatures s where s.run_id = r.id and s.kind = 'submit')
      when 'run returned' then (select count(*) from returns t where t.run_id = r.id)
      when 'run released' then (select count(*) from releases c where c.run_id = r.id)
      when 'run abandoned' then (select count(*) from abandonments b where b.run_id = r.id)
      else (select count(*) from certificate_status w join releases c on c.number = w.number
        where c.run_id = r.id and w.status = 'withdrawn') end as expected
  from runs r cross join (values ('run opened'), ('run submitted'), ('run returned'), ('run released'), ('run abandoned'),
    ('certificate withdrawn')) as a (act)
) as counted where found <> expected
union all
select format('run %s is held by %s, its acts say %s', id, pen, acts) from (
  select r.id, r.pen, coalesce((select x.person_id from acts x where x.run_id = r.id and x.act = 'pen taken' order by x.id desc limit 1),
    r.opened_by) as acts from runs r) as pens where pen is distinct from acts
union all
select format('%s of run %s, which is not there', what, run_id) from (
  select 'post ' || first_seq || ' to ' || last_seq as what, run_id from posts
  union all select 'entry ' || seq, run_id from entries) as parts
where not exists (select 1 from runs r where r.id = parts.run_id)
union all
select format('%s is not what its digest says', what) from (
  select 'photos ' || run_id || '/' || digest as what, digest, sha256(bytes) as found from photos
  union all select 'certificate_pdfs ' || number, digest, sha256(pdf) from certificate_pdfs
  union all select 'releases ' || number, digest, sha256(document) from releases
  union all select 'signatures ' || run_id || '/' || round || '/' || kind, digest, sha256(assessment) from signatures
  union all select 'procedures ' || key || '/' || revision, digest, sha256(convert_to(yaml, 'UTF8')) from procedures) as digests
where digest is distinct from found
union all
select format('the cosignature of %s is under no checkpoint', witness) from log_cosignatures s
where not exists (select 1 from log_checkpoints c where c.epoch = s.epoch and c.size = s.size)`
