package chart_test

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"settlemark/internal/chart"
)

// extent is what a mark covers.
func extent(m chart.Mark) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	see := func(x, y float64) {
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	for _, line := range m.Lines {
		for i := 0; i+1 < len(line); i += 2 {
			see(line[i].Units(), line[i+1].Units())
		}
	}
	if m.R > 0 {
		see((m.X - m.R).Units(), (m.Y - m.R).Units())
		see((m.X + m.R).Units(), (m.Y + m.R).Units())
	}
	if m.Text != "" {
		see(m.X.Units(), m.Y.Units())
	}
	return x0, y0, x1, y1
}

// anyScene draws a run of any shape.
func anyScene(t *rapid.T) *scene {
	s := newScene(time.Duration(rapid.IntRange(1, 120).Draw(t, "soak")) * time.Minute)
	minute := 0.0
	if rapid.Bool().Draw(t, "started") {
		s.started(rapid.Float64Range(0, 20).Draw(t, "start"))
	}
	for range rapid.IntRange(0, 60).Draw(t, "readings") {
		minute += rapid.SampledFrom([]float64{0, 0.2, 3, 3, 3, 3, 9, 40}).Draw(t, "pause")
		target := rapid.SampledFrom([]float64{3.9, 3.9, 3.9, 4.4, math.NaN()}).Draw(t, "target")
		p := s.point(minute, rapid.Float64Range(-2, 60).Draw(t, "value"), target, target*0.9, target*1.1)
		if rapid.IntRange(0, 3).Draw(t, "in band") > 0 {
			p.Value, p.Good = "3.95", target == 3.9
		}
		if p.Late = rapid.IntRange(0, 9).Draw(t, "late") == 0; p.Late {
			s.ex.Late[p.Entry.Seq] = true
		}
		if rapid.IntRange(0, 14).Draw(t, "fault") == 0 {
			s.fault(minute, rapid.SampledFrom([]string{"pressure", "over_temperature"}).Draw(t, "kind"), rapid.Bool().Draw(t, "expected"), rapid.Bool().Draw(t, "cleared"))
		}
	}
	return s
}

func anyOptions(t *rapid.T) chart.Options {
	return chart.Options{
		Width: rapid.Float64Range(300, 1000).Draw(t, "width"), Height: rapid.Float64Range(240, 500).Draw(t, "height"),
		Now:    at(rapid.Float64Range(0, 2000).Draw(t, "now")),
		Narrow: rapid.Bool().Draw(t, "narrow"), Paper: rapid.Bool().Draw(t, "paper"), Prefix: "x-",
	}
}

func TestNothingIsDrawnOffTheSheet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := chart.Settling(anyScene(t).judged(), anyOptions(t))
		for _, m := range c.Marks {
			x0, y0, x1, y1 := extent(m)
			const slack = 10 // a mark on the edge is drawn whole
			if x0 < -slack || y0 < 0 || x1 > c.Width.Units()+slack || y1 > c.Height.Units()+1 {
				t.Fatalf("%s at %.0f,%.0f to %.0f,%.0f on %s×%s", m.Role, x0, y0, x1, y1, c.Width, c.Height)
			}
			if math.IsNaN(x0+y0+x1+y1) || math.IsInf(x0+y0+x1+y1, 0) {
				t.Fatalf("%s has no place: %+v", m.Role, m)
			}
		}
	})
}

// Never cut: every reading in the time shown has its mark between the bracket
// and the floor.
func TestNoReadingLiesOutsideThePlot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := anyOptions(t)
		c := chart.Settling(anyScene(t).judged(), o)
		bar := math.Inf(1)
		for _, m := range c.Marks {
			if m.Role == chart.RoleBar {
				_, bar, _, _ = extent(m)
			}
		}
		for _, m := range c.Marks {
			if m.Role != chart.RolePoint && m.Role != chart.RoleOut && m.Role != chart.RoleBroke || m.Text != "" {
				continue
			}
			if _, y0, _, y1 := extent(m); y0 < 34 || y1 > bar {
				t.Fatalf("%s from %.1f to %.1f, bar at %.1f", m.Role, y0, y1, bar)
			}
		}
	})
}

func TestLabelsDoNotCoverEachOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := chart.Settling(anyScene(t).judged(), anyOptions(t))
		var texts []chart.Mark
		for _, m := range c.Marks {
			if m.Text != "" {
				texts = append(texts, m)
			}
		}
		for i, a := range texts {
			for _, b := range texts[i+1:] {
				ax0, ax1 := spread(a)
				bx0, bx1 := spread(b)
				high := 0.7 * max(a.Size, b.Size).Units()
				if ax0 < bx1 && bx0 < ax1 && math.Abs((a.Y-b.Y).Units()) < high {
					t.Fatalf("%q at %s,%s and %q at %s,%s", a.Text, a.X, a.Y, b.Text, b.X, b.Y)
				}
			}
		}
	})
}

// spread gives about where a text begins and ends, narrower than it is.
func spread(m chart.Mark) (x0, x1 float64) {
	w := 0.42 * m.Size.Units() * float64(len([]rune(m.Text)))
	x := m.X.Units()
	switch m.Anchor {
	case chart.Middle:
		return x - w/2, x + w/2
	case chart.End:
		return x - w, x
	}
	return x, x + w
}

var colour = regexp.MustCompile(`style=|#[0-9a-fA-F]{3}|rgb|fill="[^n]|stroke="|var\(`)

func wellFormed(t testing.TB, svg string) {
	t.Helper()
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("%v in %s", err, svg)
		}
	}
	if found := colour.FindString(svg); found != "" {
		t.Errorf("the picture names a colour or a style: %q", found)
	}
	for _, want := range []string{`role="img"`, "<title id=", "<desc id=", "aria-labelledby="} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %s", want)
		}
	}
}

func TestSVGIsWellFormedAndNamesNoColour(t *testing.T) {
	for name, p := range pictures() {
		t.Run(name, func(t *testing.T) { wellFormed(t, chart.Settling(p.ex, p.opt).SVG()) })
	}
	hostile := morning(145)
	hostile.q.Label = "</title><script>alert(1)</script>\x00\u202E"
	hostile.ex.Series[0].Quantity.Label = hostile.q.Label
	hostile.fault(100, `"><script>`, false, false)
	svg := chart.Settling(hostile.judged(), chart.Options{Now: at(146)}).SVG()
	wellFormed(t, svg)
	if strings.Contains(svg, "<script") || strings.ContainsAny(svg, "\x00\u202E") {
		t.Error("a label comes through unescaped")
	}
}

var classes = regexp.MustCompile(`class="([^"]*)"`)

func TestStyleSheetKnowsEveryInk(t *testing.T) {
	css, err := os.ReadFile("../../static/css/chart.css")
	if err != nil {
		t.Fatal(err)
	}
	for _, ink := range chart.Inks {
		for _, rule := range []string{".drawn .f-" + string(ink) + "{fill:var(--", ".drawn .l-" + string(ink) + "{stroke:var(--"} {
			if !strings.Contains(string(css), rule) {
				t.Errorf("chart.css has no %s", rule)
			}
		}
	}
	for name, p := range pictures() {
		for _, m := range classes.FindAllStringSubmatch(chart.Settling(p.ex, p.opt).SVG(), -1) {
			for _, class := range strings.Fields(m[1]) {
				if class != "drawn" && !strings.Contains(string(css), "."+class+"{") {
					t.Errorf("%s uses class %s", name, class)
				}
			}
		}
	}
}

// shape is what is left of a mark without its ink: how it would look if every
// ink were the same.
func shape(m chart.Mark) string {
	s := "line"
	switch {
	case m.Text != "":
		s = "text"
	case m.R > 0:
		s = "dot"
	case m.Closed:
		s = "area"
		for range m.Lines[0] {
			s += "+"
		}
	}
	if m.Fill == chart.None || m.Fill == chart.Sheet {
		s += " hollow"
	}
	if len(m.Dash) > 0 {
		s += " dashed"
	}
	return s
}

func TestWhatDiffersInInkDiffersInShape(t *testing.T) {
	shapes := map[chart.Role]map[string]bool{}
	for _, p := range pictures() {
		for _, m := range chart.Settling(p.ex, p.opt).Marks {
			if shapes[m.Role] == nil {
				shapes[m.Role] = map[string]bool{}
			}
			shapes[m.Role][shape(m)] = true
		}
	}
	for _, pair := range [][2]chart.Role{
		{chart.RolePoint, chart.RoleOut}, {chart.RoleFault, chart.RoleBeyond}, {chart.RoleLimit, chart.RoleTarget}, {chart.RoleLive, chart.RoleRest},
	} {
		for s := range shapes[pair[0]] {
			if shapes[pair[1]][s] {
				t.Errorf("%s and %s share the shape %s", pair[0], pair[1], s)
			}
		}
	}
	if !shapes[chart.RoleBroke]["text"] {
		t.Error("what ended a hold is told by ink alone: it has no words")
	}
}
