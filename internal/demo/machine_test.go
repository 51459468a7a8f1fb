package demo_test

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
)

func procedures(t *testing.T) []commissioning.Procedure {
	t.Helper()
	yamls, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	var all []commissioning.Procedure
	for _, yaml := range append(yamls, demo.ShortSoak) {
		p, err := commissioning.ParseProcedure(yaml)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}

func value(t *testing.T, readings []commissioning.Entry, quantity string) float64 {
	t.Helper()
	for _, e := range readings {
		if e.Quantity == quantity {
			v, err := strconv.ParseFloat(e.Value, 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
	}
	t.Fatalf("no reading of %s", quantity)
	return 0
}

func TestMachine(t *testing.T) {
	start := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	for _, p := range procedures(t) {
		viscosity, _ := p.Quantity("viscosity")
		cadence := viscosity.Cadence.D
		t.Run(p.Key+": whatever the unit, it starts out of tolerance and stays well inside after 20 checks", func(t *testing.T) {
			for unit := range 80 {
				run := commissioning.RunID(fmt.Sprintf("unit-%08d", unit))
				observe := demo.Machine(run, p, start)
				early := value(t, observe(cadence), "viscosity")
				if off := math.Abs(early/middle(viscosity, 24) - 1); off < 0.12 {
					t.Fatalf("unit %d is %.0f %% off after one check", unit, 100*off)
				}
				for check := 20; check < 70; check++ {
					readings := observe(time.Duration(check) * cadence)
					warmth := value(t, readings, "temperature")
					if off := math.Abs(value(t, readings, "viscosity")/middle(viscosity, warmth) - 1); off > 0.065 {
						t.Fatalf("unit %d is %.1f %% off at check %d", unit, 100*off, check)
					}
					if kPa := value(t, readings, "pressure"); kPa < 290 || kPa > 310 {
						t.Fatalf("unit %d has %v kPa", unit, kPa)
					}
				}
			}
		})
	}
	t.Run("the same run gives the same numbers, another run others", func(t *testing.T) {
		p := procedures(t)[0]
		a, b := demo.Machine("run-0001", p, start)(time.Hour), demo.Machine("run-0001", p, start)(time.Hour)
		c := demo.Machine("run-0002", p, start)(time.Hour)
		if fmt.Sprint(values(a)) != fmt.Sprint(values(b)) || fmt.Sprint(values(a)) == fmt.Sprint(values(c)) {
			t.Errorf("%v, again %v, another %v", values(a), values(b), values(c))
		}
	})
	t.Run("right after a start it is not ready", func(t *testing.T) {
		for _, e := range demo.Machine("run-0001", procedures(t)[0], start)(time.Minute) {
			if e.State != nil && *e.State {
				t.Error("ready after a minute")
			}
		}
	})
}

func values(readings []commissioning.Entry) (all []string) {
	for _, e := range readings {
		all = append(all, e.Value)
	}
	return all
}

// middle is the target, on a curve by a straight line: near enough here.
func middle(q commissioning.Quantity, celsius float64) float64 {
	f := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	if q.Target.By == "" {
		return f(q.Target.Value)
	}
	c := q.Target.Curve
	for i := 1; i < len(c); i++ {
		if celsius <= f(c[i].At) {
			share := (celsius - f(c[i-1].At)) / (f(c[i].At) - f(c[i-1].At))
			return f(c[i-1].Value) + share*(f(c[i].Value)-f(c[i-1].Value))
		}
	}
	return 0
}
