package db

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// TrailFilter narrows the trail; zero fields do not. Text needs one of Unit,
// Run, Person and From beside it, else it would read the whole record.
type TrailFilter struct {
	Unit     string
	Run      string // number or id
	Person   string // code, or a part of the name
	What     TrailWhat
	From, To *time.Time // of storing, both inclusive
	Text     string
	ID       string     // of one line
	Before   TrailPlace // only what is older than this; zero: the newest
	Limit    int        // 0 means 100
}

// TrailWhat is a group of entries or acts; "" is everything.
type TrailWhat string

// The groups.
const (
	TrailEntries      TrailWhat = "entries"
	TrailReadings     TrailWhat = "readings"
	TrailCorrections  TrailWhat = "corrections"
	TrailRulings      TrailWhat = "rulings"
	TrailRuns         TrailWhat = "runs"
	TrailCertificates TrailWhat = "certificates"
	TrailProcedures   TrailWhat = "procedures"
	TrailRegisters    TrailWhat = "registers"
	TrailPeople       TrailWhat = "people"
)

const none = "^$"

// groups gives for each which kinds of entries and which acts belong to it, as
// patterns.
var groups = map[TrailWhat]struct{ kinds, acts string }{
	"":                {"", ""},
	TrailEntries:      {"", none},
	TrailReadings:     {"^reading$", none},
	TrailCorrections:  {"^correction$", none},
	TrailRulings:      {"^disposition$", none},
	TrailRuns:         {none, "^(run|pen) "},
	TrailCertificates: {none, "^(certificate|run released|unit event|recall|lot)"},
	TrailProcedures:   {none, "^procedure"},
	TrailRegisters:    {none, "( saved|^change proposed)$"},
	TrailPeople:       {none, "^(person|roles|invite|password|first administrator|authenticator|passkey|recovery|second factors|identity|five wrong|code|session|token|key)"},
}

// TrailPlace is a place in the trail: entries and acts by the instant at which
// they were stored, then entries by run and seq, acts by number.
type TrailPlace struct {
	At  time.Time
	Act bool
	Run commissioning.RunID // of an entry
	Seq int64               // of an entry, or the act's number
}

// TrailRow is one entry or one act.
type TrailRow struct {
	StoredAt   time.Time // by the database's clock
	ObservedAt time.Time // of an act: when it was done
	Act        bool
	ID         string
	Run        commissioning.RunID
	RunNumber  commissioning.RunNumber // 0 without a run
	RunState   commissioning.State
	Procedure  string
	Revision   int
	Unit       string
	SiteName   string
	TimeZone   string
	Seq        int64
	Kind       string // kind of the entry, or the act
	By         string
	Name       string
	Body       []byte // of an entry
	Subject    string
	Detail     string
	Was        string
	Became     string
}

// Place of the row in the trail.
func (r TrailRow) Place() TrailPlace {
	if r.Act {
		return TrailPlace{At: r.StoredAt, Act: true, Seq: r.Seq}
	}
	return TrailPlace{At: r.StoredAt, Run: r.Run, Seq: r.Seq}
}

// Each arm walks its own index backwards from the place and stops at the limit;
// nothing is counted and nothing skipped.
const trail = `
select stored_at, observed_at, act, id, run, run_number, run_state, procedure, revision, unit, site_name, time_zone, seq, kind,
  by, name, body, subject, detail, was, became
from (
  (select e.received_at as stored_at, e.observed_at, false as act, e.id::text as id, e.run_id::text as run, r.number as run_number,
    r.state as run_state, r.procedure, r.revision, r.unit, s.name as site_name, s.time_zone, e.seq::bigint as seq, e.kind,
    coalesce(e.person_id, e.logger_id) as by, coalesce(p.name, l.name) as name, e.body, '' as subject, '' as detail, '' as was, '' as became
  from entries e join runs r on r.id = e.run_id join sites s on s.id = r.site_id
    left join persons p on p.id = e.person_id left join loggers l on l.id = e.logger_id
  where (@evidence or r.site_id = any(@evidence_sites))
    and (@unit = '' or r.unit = @unit)
    and (@run::text is null or e.run_id = @run::text::uuid)
    and (@who::text[] is null or e.person_id = any(@who) or e.logger_id = any(@who))
    and (@id::text is null or e.id = @id::text::uuid)
    and (@kinds = '' or e.kind ~ @kinds)
    and (@from::timestamptz is null or e.received_at >= @from)
    and (@to::timestamptz is null or e.received_at <= @to)
    and (@at::timestamptz is null or e.received_at <= @at
      and (e.received_at < @at or @after_acts or (e.run_id, e.seq) < (@place_run::text::uuid, @place_seq::bigint)))
    and (@text = '' or (r.state in ('released', 'abandoned') or e.kind not in ('step', 'correction'))
      and position(lower(@text) in lower(convert_from(e.body, 'UTF8'))) > 0)
  order by e.received_at desc, e.run_id desc, e.seq desc
  limit @limit)
  union all
  (select a.stored_at, a.at, true, a.key::text, coalesce(a.run_id::text, ''), coalesce(r.number, 0),
    coalesce(r.state, ''), '', 0, coalesce(a.unit, ''), coalesce(s.name, ''), coalesce(s.time_zone, ''), a.id, a.act,
    coalesce(a.person_id, ''), v.name, ''::bytea, a.subject, v.detail, v.was, v.became
  from acts a cross join lateral shown(a) v left join runs r on r.id = a.run_id left join sites s on s.id = a.site_id
  where case
      when a.run_id is not null then @evidence or a.site_id = any(@evidence_sites)
      when a.site_id is not null then @registers or a.site_id = any(@register_sites)
      when a.act like 'procedure%' then @evidence or cardinality(@evidence_sites::bigint[]) > 0
      else @registers end
    and (@unit = '' or a.unit = @unit)
    and (@run::text is null or a.run_id = @run::text::uuid)
    and (@who::text[] is null or a.person_id = any(@who) or a.subject = any(@who))
    and (@id::text is null or a.key = @id::text::uuid)
    and (@acts = '' or a.act ~ @acts)
    and (@from::timestamptz is null or a.stored_at >= @from)
    and (@to::timestamptz is null or a.stored_at <= @to)
    and (@at::timestamptz is null or a.stored_at <= @at
      and (a.stored_at < @at or @after_acts and a.id < @place_seq::bigint))
    and (@text = '' or position(lower(@text) in lower(concat_ws(' ', a.act, a.subject, v.detail, v.was, v.became))) > 0)
  order by a.stored_at desc, a.id desc
  limit @limit)
) as both_arms
order by stored_at desc, act desc, case when act then '' else run end desc, seq desc
limit @limit`

// Trail gives entries and acts that the person may read, newest first, in the
// order of TrailPlace. Administrators without another role read acts on people,
// roles and registers only. What anybody read off a print sample is left out
// until its run has ended, and no text search finds it.
func (d *DB) Trail(ctx context.Context, p commissioning.Person, f TrailFilter) (_ []TrailRow, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Trail(%s)", p.ID)
	a, err := d.trailArgs(ctx, p, f)
	if err != nil || a == nil {
		return nil, err
	}
	// Planned for these values: one plan for every filter would fit none.
	rows, err := d.pool.Query(ctx, trail, pgx.QueryExecModeCacheDescribe, a)
	if err != nil {
		return nil, explain(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByName[TrailRow])
	return all, explain(err)
}

// trailArgs is nil when the filter names a run or a person that is not there.
func (d *DB) trailArgs(ctx context.Context, p commissioning.Person, f TrailFilter) (args, error) {
	group, known := groups[f.What]
	if !known {
		return nil, problem.On("what", "There is no such kind. Choose one from the list.")
	}
	if f.Text != "" && f.Unit == "" && f.Run == "" && f.Person == "" && f.From == nil {
		return nil, problem.On("text", "A search for words needs a unit, a run, a person or a first day beside it. Give one of them.")
	}
	if f.Limit == 0 {
		f.Limit = 100
	}
	everywhere, evidenceSites := evidence(p)
	allRegisters, registerSites := registers(p)
	a := args{
		"evidence": everywhere, "evidence_sites": evidenceSites, "registers": allRegisters, "register_sites": registerSites,
		"unit": f.Unit, "run": nil, "who": nil, "kinds": group.kinds, "acts": group.acts, "from": f.From, "to": f.To, "text": f.Text, "id": nilIfEmpty(f.ID),
		"at": nil, "after_acts": f.Before.Act, "place_run": nilIfEmpty(f.Before.Run), "place_seq": f.Before.Seq, "limit": f.Limit,
	}
	if !f.Before.At.IsZero() {
		a["at"] = f.Before.At
	}
	if f.Run != "" {
		run, err := d.runNamed(ctx, f.Run)
		if err != nil || run == "" {
			return nil, err
		}
		a["run"] = run
	}
	if f.Person != "" {
		who, err := d.whoIs(ctx, f.Person)
		if err != nil || len(who) == 0 {
			return nil, err
		}
		a["who"] = who
	}
	return a, nil
}
