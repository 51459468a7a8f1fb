package demo

import (
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

// telling is a run while it is told: where its clock stands, what was recorded.
type telling struct {
	*scene
	story    story
	site     commissioning.Site
	unit     commissioning.Unit
	engineer commissioning.Person
	logger   commissioning.Logger
	chance   *rand.Rand
	machine  machine

	run   commissioning.Run
	at    time.Time
	until time.Time             // a run under way goes no further
	typed []commissioning.Entry // by the engineer since the last post
	waste float64               // mL in the container

	reported []commissioning.Entry // by the logger since its last post

	first, last time.Time // starts of the jet
	check       int       // the unit's newest check that was dealt with
	heldFrom    time.Time // good and without a break since, by a strict view
	mishaps     []mishap  // still to come
	faults      []raised
}

// raised is a fault that stands in the logbook.
type raised struct {
	seq  int
	kind string
}

// tell lets one run happen, from its opening to its end.
func (s *scene) tell(ctx context.Context, st story) error {
	unit := s.units[st.unit]
	t := &telling{
		scene: s, story: st, unit: unit, engineer: s.people[st.engineer], logger: s.loggers[unit.Site],
		chance: dice(seed(fmt.Sprint(st.unit, st.days)), 0), mishaps: st.mishaps,
		until: s.now,
	}
	for _, site := range s.sites {
		if site.ID == unit.Site {
			t.site = site
		}
	}
	opened, err := t.opened()
	if err != nil {
		return err
	}
	t.at = opened
	if err := t.open(ctx); err != nil {
		return err
	}
	if err := t.work(ctx); err != nil {
		return err
	}
	return t.finish(ctx)
}

// opened is when the story began: a working day at the site, or so long ago.
func (t *telling) opened() (time.Time, error) {
	if t.story.ago > 0 {
		return t.now.Add(-t.story.ago), nil
	}
	zone, err := time.LoadLocation(t.site.TimeZone)
	if err != nil {
		return time.Time{}, err
	}
	day := t.now.In(zone).AddDate(0, 0, -t.story.days)
	for day.Weekday() == time.Saturday || day.Weekday() == time.Sunday {
		day = day.AddDate(0, 0, -1)
	}
	midnight := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, zone)
	return midnight.Add(t.story.hour).UTC(), nil
}

func (t *telling) open(ctx context.Context) (err error) {
	id := t.id()
	procedure := t.procedures[t.story.procedure]
	t.machine = machineOf(commissioning.RunID(id), t.unit.Tag, procedure)
	var instruments []int64
	for _, code := range t.story.instruments {
		instruments = append(instruments, t.measuring[code].ID)
	}
	t.run, err = t.acts.OpenRun(ctx, t.engineer, act.Opening{
		ID: commissioning.RunID(id), Unit: t.unit.Tag, Procedure: procedure.Key, Revision: procedure.Revision,
		Bench: t.benches[t.site.ID][t.story.bench].ID, Instruments: instruments,
	}, t.at)
	return err
}

// id makes a UUIDv7 of the story's clock and chance.
func (t *telling) id() string {
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[:8], uint64(t.at.UnixMilli())<<16|t.chance.Uint64()>>48)
	binary.BigEndian.PutUint64(u[8:], t.chance.Uint64())
	u[6] = 0x70 | u[6]&0x0f
	u[8] = 0x80 | u[8]&0x3f
	return u.String()
}

// pass lets about so many cadences of the unit go by.
func (t *telling) pass(cadences float64) {
	t.at = t.at.Add(time.Duration(cadences * (0.8 + 0.5*t.chance.Float64()) * float64(t.machine.cadence()))).Round(time.Second)
}

// write keeps an entry of the engineer for the next post.
func (t *telling) write(e commissioning.Entry) {
	e.ID, e.Via = t.id(), "typed"
	if e.ObservedAt.IsZero() {
		e.ObservedAt = t.at
	}
	if e.CapturedAt == nil {
		captured := e.ObservedAt.Add(4 * time.Second)
		e.CapturedAt = &captured
		t.at = captured
	}
	t.typed = append(t.typed, e)
}

// post records what was typed, after what the unit reported up to then.
func (t *telling) post(ctx context.Context) ([]int, error) {
	t.collect(t.at)
	if err := t.flush(ctx); err != nil || len(t.typed) == 0 {
		return nil, err
	}
	typed := t.typed
	t.typed = nil
	return t.record(ctx, act.Author{Person: t.engineer, Device: "Tablet " + t.run.Bench}, typed)
}

func (t *telling) record(ctx context.Context, by act.Author, entries []commissioning.Entry) ([]int, error) {
	recorded, err := t.acts.Record(ctx, by, t.run.ID, entries, t.at)
	if err != nil {
		return nil, err
	}
	t.run = recorded.Run
	return recorded.Seqs, nil
}
