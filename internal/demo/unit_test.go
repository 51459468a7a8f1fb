package demo_test

import (
	"reflect"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
)

type check struct {
	at       time.Time
	readings []commissioning.Entry
}

func checks(u demo.Unit) (all []check) {
	for at, readings := range u.Checks() {
		all = append(all, check{at, readings})
	}
	return all
}

func TestUnit(t *testing.T) {
	procedure, err := commissioning.ParseProcedure(demo.ShortSoak)
	if err != nil {
		t.Fatal(err)
	}
	u := demo.Unit{Seed: 7, Procedure: procedure, From: time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC), For: 20 * time.Minute}
	calm := checks(u)
	t.Run("checks at the cadence of its procedure", func(t *testing.T) {
		if len(calm) != 120 || calm[0].at.Sub(u.From) != 10*time.Second || !calm[0].readings[0].ObservedAt.Equal(calm[0].at) {
			t.Errorf("%d checks, the first at %v", len(calm), calm[0].at)
		}
	})
	t.Run("the same seed gives the same, another one other readings", func(t *testing.T) {
		u := u
		u.Faults, u.DropOuts, u.Drift = 2, 3, time.Minute
		again, other := checks(u), u
		other.Seed = 8
		if !reflect.DeepEqual(checks(u), again) || reflect.DeepEqual(checks(other), again) {
			t.Error("not so")
		}
	})
	t.Run("a fault stops the jet: not ready, no pressure, nothing to measure, and ready again later", func(t *testing.T) {
		u := u
		u.Faults = 1
		stopped := 0
		all := checks(u)
		for _, c := range all[:12] {
			for _, e := range c.readings {
				if e.Note == "" {
					continue
				}
				stopped++
				if *e.State || len(c.readings) != 3 || value(t, c.readings, "pressure") > 20 {
					t.Errorf("%+v", c.readings)
				}
			}
		}
		if stopped == 0 {
			t.Error("no fault in the first checks")
		}
		if last := all[len(all)-1].readings; len(last) != 4 || !ready(last) {
			t.Errorf("at its end %+v", last)
		}
	})
	t.Run("a drop-out loses checks and changes no other", func(t *testing.T) {
		u := u
		u.DropOuts = 2
		known := map[time.Time]check{}
		for _, c := range calm {
			known[c.at] = c
		}
		all := checks(u)
		if lost := len(calm) - len(all); lost < 2 || lost > 10 {
			t.Errorf("%d checks lost", lost)
		}
		for _, c := range all {
			if !reflect.DeepEqual(c, known[c.at]) {
				t.Fatalf("%+v", c)
			}
		}
	})
	t.Run("a clock that gains is ever further ahead", func(t *testing.T) {
		u := u
		u.Drift = time.Minute
		all := checks(u)
		if ahead := all[119].readings[0].ObservedAt.Sub(all[119].at); ahead != 20*time.Second {
			t.Errorf("%v ahead after 20 min", ahead)
		}
	})
}

func ready(readings []commissioning.Entry) bool {
	for _, e := range readings {
		if e.State != nil {
			return *e.State
		}
	}
	return false
}
