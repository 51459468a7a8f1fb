package chart_test

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

type picture struct {
	ex  rules.Examination
	opt chart.Options
}

// pictures are the odd and the plain; each has a golden file of its name.
func pictures() map[string]picture {
	all := map[string]picture{
		"holding":  {morning(145).judged(), chart.Options{Now: at(146)}},
		"out":      {morning(105).judged(), chart.Options{Now: at(106)}},
		"phone":    {morning(145).judged(), chart.Options{Now: at(146), Width: 358, Height: 310, Narrow: true}},
		"complete": {morning(171).judged(), chart.Options{Now: at(171)}},
		"paper":    {morning(171).judged(), chart.Options{Now: at(180), Paper: true, Width: 780, Height: 300}},
		"empty":    {newScene(30 * time.Minute).started(0).judged(), chart.Options{Now: at(4)}},
		"one":      {newScene(30*time.Minute).started(0).every(5, 3, 4.9).judged(), chart.Options{Now: at(6)}},
		"nothing":  {rules.Examination{}, chart.Options{Now: at(4)}},
		"all-out":  {newScene(30*time.Minute).started(0).every(3, 3, settles(30, 5.4, 4.6, 9)...).judged(), chart.Options{Now: at(92)}},
		"silence":  {newScene(30*time.Minute).started(0).every(3, 3, 4.1, 4.0, 3.9, 3.9).judged(), chart.Options{Now: at(31)}},
	}
	long := newScene(60 * time.Minute).started(0)
	for i := range 900 {
		long.reading(float64(i)*0.5, 3.9+0.3*math.Sin(float64(i)/37)+0.02*float64(i%3))
	}
	long.reading(451, 3.1)
	long.every(452, 0.5, settles(60, 3.6, 3.9, 8)...)
	all["hours"] = picture{long.judged(), chart.Options{Now: at(482)}}
	all["hours-on-paper"] = picture{long.judged(), chart.Options{Now: at(482), Paper: true, Width: 780, Height: 300}}

	odd := newScene(30*time.Minute).started(0).fault(4, "pressure", true, true).fault(20, "over_temperature", false, false)
	for i, v := range settles(20, 4.6, 3.9, 5) {
		p := odd.reading(6+3*float64(i), v)
		if i == 7 || i == 12 {
			p.Late = i == 7
			odd.ex.Late[p.Entry.Seq] = true
			p.Entry.Via = "typed"
			later := p.Entry.ObservedAt.Add(27 * time.Minute)
			p.Entry.CapturedAt = &later
		}
		if i == 3 {
			p.Entry.Via = "typed"
		}
	}
	all["late-and-typed"] = picture{odd.judged(), chart.Options{Now: at(66)}}

	curve := newScene(30 * time.Minute).started(0)
	curve.q.Target.Curve = []commissioning.CurvePoint{{At: "15", Value: "5.10"}, {At: "35", Value: "3.60"}}
	curve.q.Target.Value, curve.q.Target.By = "", "temperature"
	for i, v := range settles(20, 5.3, 4.0, 6) {
		if t := 4.4 - 0.02*float64(i); i == 8 {
			curve.point(3+3*float64(i), v, math.NaN(), math.NaN(), math.NaN())
		} else {
			curve.point(3+3*float64(i), v, t, t*0.9, t*1.1)
		}
	}
	all["curve"] = picture{curve.judged(), chart.Options{Now: at(62)}}

	breaks := newScene(30 * time.Minute).started(0)
	for i := range 45 {
		v := 3.9
		if i%6 == 5 {
			v = 3.3 + 1.2*float64(i%4)/3
		}
		breaks.reading(3+3*float64(i), v)
	}
	all["many-breaks"] = picture{breaks.judged(), chart.Options{Now: at(140)}}
	all["spike"] = picture{newScene(30*time.Minute).started(0).every(3, 3, 4.1, 4.0, 38.6, 3.9, 3.9, 3.9).judged(), chart.Options{Now: at(20)}}
	zone, err := time.LoadLocation("America/Halifax")
	if err != nil {
		panic(err)
	}
	all["two-days"] = picture{newScene(30*time.Minute).started(0).every(3, 60, settles(20, 5.4, 3.9, 4)...).judged(), chart.Options{Now: at(1200), Paper: true, Width: 780, Height: 300, Zone: zone}}
	return all
}

func TestSettlingLooksAsItDid(t *testing.T) {
	for name, p := range pictures() {
		t.Run(name, func(t *testing.T) {
			p.opt.Prefix = name + "-"
			golden(t, name+".svg", chart.Settling(p.ex, p.opt).SVG())
		})
	}
}

// golden compares with a stored picture; -update writes it anew.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got+"\n" != string(want) {
		t.Errorf("%s changed; look at it, then run the test with -update", name)
	}
}
