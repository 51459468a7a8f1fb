package demo

import (
	"context"
	"math"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

// strict is how near its target a reading must be to count here. It is nearer
// than any tolerance of ours, so that the rules agree that the soak is over.
const strict = 0.07

// start lets the jet run for the first time, with the faults that the story has.
func (t *telling) start(ctx context.Context, step commissioning.Step) error {
	t.pass(0.4)
	if on := t.now.Add(-t.story.jet); t.story.jet > 0 && on.After(t.at) {
		t.at = on.Truncate(time.Second)
	}
	t.first, t.last = t.at, t.at
	t.write(commissioning.Entry{Kind: commissioning.KindStart, Step: step.ID})
	if m, ok := t.mishap(startFault, 0); ok {
		t.at = t.at.Add(t.machine.cadence() / 4)
		return t.fault(ctx, m)
	}
	return nil
}

// mishap takes the next one off the list if it is of that sort at that check.
func (t *telling) mishap(sort what, check int) (mishap, bool) {
	if len(t.mishaps) == 0 || t.mishaps[0].what != sort || t.mishaps[0].check != check {
		return mishap{}, false
	}
	m := t.mishaps[0]
	t.mishaps = t.mishaps[1:]
	return m, true
}

// fault is reported by the logger, cleared by the engineer, and the jet comes
// on again.
func (t *telling) fault(ctx context.Context, m mishap) error {
	if _, err := t.post(ctx); err != nil {
		return err
	}
	at := t.at
	seqs, err := t.record(ctx, act.Author{Logger: &t.logger}, []commissioning.Entry{{
		Kind: commissioning.KindFault, Fault: m.fault, ObservedAt: at, CapturedAt: &at, ID: t.id(), Via: "logger",
	}})
	if err != nil {
		return err
	}
	t.faults = append(t.faults, raised{seqs[0], m.fault})
	t.pass(1.4)
	t.write(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: seqs[0], How: m.text})
	t.pass(0.2)
	t.last, t.heldFrom = t.at, time.Time{}
	t.write(commissioning.Entry{Kind: commissioning.KindStart})
	t.check = t.checkAt(t.at) // nothing was reported in between
	_, err = t.post(ctx)
	return err
}

// soak lets the unit report until the soak must be over, mishaps and all.
func (t *telling) soak(ctx context.Context) error {
	if _, err := t.post(ctx); err != nil {
		return err
	}
	need := t.machine.procedure.Gates.Hold.Soak.D + 2*t.machine.cadence()
	for t.heldFrom.IsZero() || t.instant(t.check).Sub(t.heldFrom) < need {
		next := t.check + 1
		if t.instant(next).After(t.until) {
			t.at = t.until
			break
		}
		var err error
		if m, ok := t.mishap(startFault, next); ok {
			t.at = later(t.at, t.instant(next).Add(-t.machine.cadence()/3))
			err = t.fault(ctx, m)
		} else if m, ok := t.mishap(silence, next); ok {
			err = t.silence(ctx, m)
		} else {
			t.collect(t.instant(next))
		}
		if err != nil {
			return err
		}
	}
	return t.flush(ctx)
}

// silence: the logger reports nothing, and one reading is typed in late.
func (t *telling) silence(ctx context.Context, m mishap) error {
	if err := t.flush(ctx); err != nil {
		return err
	}
	seen := t.instant(m.check)
	t.at = t.instant(m.last)
	for _, e := range t.machine.observe(t.first, t.last, seen) {
		if e.Quantity == t.machine.procedure.Gates.Viscosity.Quantity {
			typed := t.at
			e.CapturedAt, e.Note = &typed, m.text
			t.write(e)
		}
	}
	t.check, t.heldFrom = m.last, time.Time{}
	_, err := t.post(ctx)
	return err
}

// collect keeps what the unit finds at each check up to an instant.
func (t *telling) collect(upTo time.Time) {
	for !t.first.IsZero() && t.check < t.checkAt(upTo) {
		t.check++
		readings := t.machine.observe(t.first, t.last, t.instant(t.check))
		if _, ok := t.mishap(excursion, t.check); ok {
			t.spoil(readings)
		}
		t.judge(readings)
		for i := range readings {
			readings[i].ID = t.id()
		}
		t.reported = append(t.reported, readings...)
	}
	t.at = later(t.at, upTo)
}

// spoil puts the viscosity out of tolerance.
func (t *telling) spoil(readings []commissioning.Entry) {
	for i, e := range readings {
		if e.Quantity == t.machine.procedure.Gates.Viscosity.Quantity {
			readings[i].Value = decimal(number(e.Value)*1.16, 2)
		}
	}
}

// judge keeps heldFrom, by a stricter view than the rules have.
func (t *telling) judge(readings []commissioning.Entry) {
	good, warmth := true, 0.0
	for _, e := range readings {
		if e.Unit == "degC" {
			warmth = number(e.Value)
		}
		if e.State != nil && !*e.State {
			good = false
		}
	}
	for _, q := range t.machine.procedure.Quantities {
		for _, e := range readings {
			if e.Quantity == q.Key && q.Target != nil && math.Abs(number(e.Value)/t.machine.target(q, warmth)-1) > strict {
				good = false
			}
		}
	}
	switch {
	case !good:
		t.heldFrom = time.Time{}
	case t.heldFrom.IsZero():
		t.heldFrom = t.instant(t.check)
	}
}

// flush posts what the unit reported, as its logger.
func (t *telling) flush(ctx context.Context) error {
	if len(t.reported) == 0 {
		return nil
	}
	reported := t.reported
	t.reported = nil
	_, err := t.record(ctx, act.Author{Logger: &t.logger}, reported)
	return err
}

// instant of a check, and the newest check at an instant.
func (t *telling) instant(check int) time.Time {
	return t.first.Add(time.Duration(check) * t.machine.cadence())
}

func (t *telling) checkAt(at time.Time) int { return int(at.Sub(t.first) / t.machine.cadence()) }

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
