package demo

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// machine is how one unit behaves once its jet runs: ink that starts too thick
// or too thin and settles exponentially, make-up dosed in small steps, warming
// up, a little noise. It keeps no state: the same seed and instants give the
// same numbers, so it goes on where it was after the program was restarted.
type machine struct {
	seed      uint64
	procedure commissioning.Procedure
	slow      float64 // how many times slower than usual it settles
	curves    map[string]measure.Curve
}

// machineOf is the machine behind a run. It depends on the random end of the
// run's id alone, so the simulation goes on where the story stopped.
func machineOf(run commissioning.RunID, tag string, p commissioning.Procedure) machine {
	return newMachine(seed(string(run[max(0, len(run)-12):])), slow[tag], p)
}

func newMachine(seed uint64, slow float64, p commissioning.Procedure) machine {
	m := machine{seed: seed, procedure: p, slow: slow, curves: map[string]measure.Curve{}}
	for _, q := range p.Quantities {
		if q.Target == nil || q.Target.By == "" {
			continue
		}
		var points []measure.Point
		for _, p := range q.Target.Curve {
			points = append(points, measure.Point{At: measure.Must(p.At), Value: measure.Must(p.Value)})
		}
		m.curves[q.Key] = measure.NewCurve(points)
	}
	return m
}

// dice throws the same numbers for the same two seeds.
func dice(a, b uint64) *rand.Rand {
	return rand.New(rand.NewPCG(a, b)) //nolint:gosec // a simulation has to repeat itself; nothing here is secret
}

func seed(text string) uint64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte(text)) // never fails
	return h.Sum64()
}

// The shape of it. Times are in cadences of the procedure's viscosity.
const (
	settling  = 6.0   // time constant of viscosity
	warming   = 5.0   // time constant of temperature
	dosing    = 7.0   // from one dose of make-up to the next
	readiness = 0.9   // from a start to the ready state
	offset    = 0.45  // how far off it starts, as a share of the target
	ripple    = 0.016 // what one dose changes
	grain     = 0.004 // standard deviation of a viscosity reading
)

// cadence is how often the unit checks its viscosity.
func (m machine) cadence() time.Duration {
	for _, q := range m.procedure.Quantities {
		if q.Key == m.procedure.Gates.Viscosity.Quantity && q.Cadence.D > 0 {
			return q.Cadence.D
		}
	}
	return 3 * time.Minute
}

// observe gives one reading of every quantity that the unit knows, as they
// were at the instant at. The jet first ran at first and last came on at last.
func (m machine) observe(first, last, at time.Time) []commissioning.Entry {
	var readings []commissioning.Entry
	run, since := m.cadences(first, at), m.cadences(last, at)
	warmth := m.warmth(run)
	for _, q := range m.procedure.Quantities {
		e := commissioning.Entry{
			Kind: commissioning.KindReading, ObservedAt: at, CapturedAt: &at,
			Quantity: q.Key, Via: "logger",
		}
		switch {
		case q.State != nil:
			ready := since >= readiness
			e.State = &ready
		case q.Unit == "degC":
			e.Value, e.Unit = decimal(warmth, 1), q.Unit
		case q.Unit == "mPa.s":
			e.Value, e.Unit = decimal(m.thickness(q, run, warmth), 2), q.Unit
		case q.Unit == "kPa":
			e.Value, e.Unit = decimal(m.pressure(q, since), 0), q.Unit
		default:
			continue
		}
		readings = append(readings, e)
	}
	return readings
}

// thickness is the viscosity after run cadences.
func (m machine) thickness(q commissioning.Quantity, run, warmth float64) float64 {
	side := 1.0
	if m.constant(1) < 0.3 {
		side = -0.6
	}
	lasting := 0.04 * (m.constant(2) - 0.5)
	away := side * offset * math.Exp(-run/(settling*math.Max(m.slow, 1)*(0.9+0.2*m.constant(3))))
	dose := ripple * (math.Mod(run, dosing)/dosing - 0.5)
	return m.target(q, warmth) * (1 + lasting + away + dose + grain*m.noise(run, 4))
}

func (m machine) warmth(run float64) float64 {
	return 21.5 + 2*m.constant(5) + 5*(1-math.Exp(-run/warming)) + 0.06*m.noise(run, 6)
}

func (m machine) pressure(q commissioning.Quantity, since float64) float64 {
	return m.target(q, 0)*(1-0.03*math.Exp(-since)) + 0.8*m.noise(since, 7)
}

func (m machine) cadences(from, at time.Time) float64 {
	return float64(at.Sub(from)) / float64(m.cadence())
}

// constant is a number of this unit between 0 and 1.
func (m machine) constant(which uint64) float64 {
	return dice(m.seed, which).Float64()
}

// noise is normal, cut at 2.5, and belongs to the instant.
func (m machine) noise(instant float64, which uint64) float64 {
	random := dice(m.seed+which, uint64(instant*1000))
	return math.Max(-2.5, math.Min(2.5, random.NormFloat64()))
}

// target of a quantity at a temperature; 1 where it has none.
func (m machine) target(q commissioning.Quantity, celsius float64) float64 {
	if q.Target == nil {
		return 1
	}
	if q.Target.By == "" {
		return number(q.Target.Value)
	}
	value, found := m.curves[q.Key].At(measure.Must(decimal(celsius, 1)))
	if !found {
		return number(q.Target.Curve[0].Value)
	}
	return number(value.String())
}

// number reads a decimal of a procedure that was loaded, so it is one.
func number(text string) float64 {
	v, _ := strconv.ParseFloat(text, 64)
	return v
}

func decimal(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }
