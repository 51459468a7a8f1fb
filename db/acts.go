package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Acts on runs are evidence; those on registers are for all who read registers;
// those on people and procedures for administrators and quality.
const acts = `
select id, at, coalesce(person_id, '') as by, (shown(acts)).name, act, coalesce(site_id, 0) as site, coalesce(run_id::text, '') as run,
  coalesce(unit, '') as unit, subject, (shown(acts)).detail
from acts
where case
    when run_id is not null then @evidence or site_id = any(@evidence_sites)
    when site_id is not null then @registers or site_id = any(@register_sites)
    else @registers end
  and (@unit = '' or unit = @unit)
  and (@by = '' or person_id = @by)
  and (@act = '' or act = @act)
  and (@subject = '' or subject = @subject)
  and (@run = '' or run_id::text = @run)
order by id desc
limit @limit`

// Acts gives the acts of consequence that the person may read, newest first.
func (d *DB) Acts(ctx context.Context, p commissioning.Person, f ActFilter) (_ []ActRecord, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Acts(%s)", p.ID)
	if f.Limit == 0 {
		f.Limit = 100
	}
	everywhere, evidenceSites := evidence(p)
	allRegisters, registerSites := registers(p)
	return list[ActRecord](ctx, d.pool, acts, args{
		"evidence": everywhere, "evidence_sites": evidenceSites, "registers": allRegisters, "register_sites": registerSites,
		"unit": f.Unit, "by": f.By, "act": f.Act, "subject": f.Subject, "run": f.Run, "limit": f.Limit,
	})
}

// Note is an act on a register or on a person.
type Note struct {
	Key     string // UUID, so that it is written once
	Act     string
	By      commissioning.PersonID // "" when the program does it
	Site    commissioning.SiteID
	Unit    string
	Subject string
	Detail  string
	Was     string // JSON of what the register held before, and
	Became  string // after; "" for an act that changes none
}

const noteRegister = `
select note_register(@key, @act, @by, @now, @site, @unit, @subject, @detail)`

const noteChange = `
select note_change(@key, @act, @by, @now, @site, @unit, @subject, @detail, @was, @became)`

// Note writes an act on a register or on a person. Acts on runs and
// certificates are written by the functions that do them.
func (t *Tx) Note(ctx context.Context, n Note, now time.Time) error {
	var site *int64
	if n.Site != 0 {
		id := int64(n.Site)
		site = &id
	}
	a := args{
		"key": n.Key, "act": n.Act, "by": nilIfEmpty(n.By), "now": now, "site": site, "unit": nilIfEmpty(n.Unit),
		"subject": n.Subject, "detail": n.Detail,
	}
	if n.Was == n.Became {
		return t.exec(ctx, noteRegister, a)
	}
	a["was"], a["became"] = n.Was, n.Became
	return t.exec(ctx, noteChange, a)
}

const noted = `select exists (select 1 from acts where key = @key)`

// Noted says whether the act with this key is written: it was done before.
func (t *Tx) Noted(ctx context.Context, key string) (bool, error) {
	return value[bool](ctx, t.tx, noted, args{"key": key})
}
