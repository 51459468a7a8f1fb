package chart_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"settlemark/internal/chart"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

func TestSplit(t *testing.T) {
	hash := sha256.Sum256([]byte("record"))
	for name, signed := range map[string]chart.Signed{"split-open": chart.Unsigned, "split-engineer": chart.ByEngineer, "split-both": chart.ByBoth} {
		t.Run(name, func(t *testing.T) {
			svg := chart.Split(words.English, hash[:], 368, 116, signed).Named("halves", name+"-").SVG()
			wellFormed(t, svg)
			golden(t, name+".svg", svg)
		})
	}
	t.Run("every_bit_of_the_hash_shows", func(t *testing.T) {
		was := chart.Split(words.English, hash[:], 368, 116, chart.ByBoth).SVG()
		for bit := range 256 {
			other := bytes.Clone(hash[:])
			other[bit/8] ^= 1 << (bit % 8)
			if chart.Split(words.English, other, 368, 116, chart.ByBoth).SVG() == was {
				t.Errorf("bit %d changes nothing", bit)
			}
		}
	})
	t.Run("the_open_half_is_dashed_and_hollow", func(t *testing.T) {
		dashed := 0
		for _, m := range chart.Split(words.English, hash[:], 368, 116, chart.ByEngineer).Marks {
			if len(m.Dash) > 0 && m.Fill == chart.Sheet {
				dashed++
			}
		}
		if dashed != 1 {
			t.Errorf("%d dashed halves", dashed)
		}
	})
	t.Run("a_record_without_a_hash_still_draws", func(t *testing.T) {
		wellFormed(t, chart.Split(words.English, nil, 368, 116, chart.Unsigned).SVG())
	})
}

func TestMeters(t *testing.T) {
	for name, c := range map[string]chart.Chart{
		"waste":       chart.Waste(words.English, rules.Container{Name: "waste", CapacityML: "1000", LimitML: "800", VolumeML: "420", PercentFull: "42"}, 210, 120, 160),
		"waste-over":  chart.Waste(words.English, rules.Container{Name: "waste", CapacityML: "1000", LimitML: "800", VolumeML: "990", PercentFull: "99", Over: true}, 210, 120, 160),
		"waste-empty": chart.Waste(words.English, rules.Container{Name: "waste", CapacityML: "1000", LimitML: "800"}, 0, 120, 160),
		"ruler-in":    chart.Ruler(words.English, chart.Gauge{Value: "3.84", Last: "3.86", Lower: "3.51", Target: "3.90", Upper: "4.29"}, 460),
		"ruler-out":   chart.Ruler(words.English, chart.Gauge{Value: "0.384", Last: "3.86", Lower: "3.51", Target: "3.90", Upper: "4.29"}, 460),
		"ruler-bare":  chart.Ruler(words.English, chart.Gauge{Lower: "3.51", Target: "3.90", Upper: "4.29"}, 460),
		"ruler-local": chart.Ruler(words.English, chart.Gauge{
			Last: "21.5", Lower: "15", Target: "20", Upper: "25",
			Beside: func(value string) string {
				return map[string]string{"15": "(59 °F)", "20": "(68 °F)", "25": "(77 °F)"}[value]
			},
		}, 460),
		"ruler-none": chart.Ruler(words.English, chart.Gauge{Value: "3.84"}, 460),
	} {
		t.Run(name, func(t *testing.T) {
			svg := c.Named("", name+"-").SVG()
			wellFormed(t, svg)
			golden(t, name+".svg", svg)
		})
	}
}

func TestTable(t *testing.T) {
	rows := chart.Table(morning(145).judged(), "viscosity")
	find := func(clock string) chart.Row {
		for _, r := range rows {
			if r.At.Format("15:04") == clock {
				return r
			}
		}
		t.Fatalf("no row at %s", clock)
		return chart.Row{}
	}
	if len(rows) != 33 {
		t.Errorf("%d rows", len(rows))
	}
	if r := find("13:45"); r.In || r.Counts || !r.Broke || r.Percent != "88.5" {
		t.Errorf("the one that broke the hold: %+v", r)
	}
	if r := find("13:00"); !r.In || r.Counts || r.Why.String() != "Not part of a hold." {
		t.Errorf("the lucky one: %+v", r)
	}
	if r := find("14:24"); !r.Counts || !r.Why.Empty() || r.By != "L-0001" || r.Typed || r.Late {
		t.Errorf("one that counts: %+v", r)
	}
}

func TestStoryIsTwoSentences(t *testing.T) {
	for name, p := range pictures() {
		c := chart.Settling(p.ex, p.opt)
		if n := strings.Count(c.Story+" ", ". "); n != 2 {
			t.Errorf("%s: %d sentences: %s", name, n, c.Story)
		}
	}
	story := chart.Settling(morning(145).judged(), chart.Options{Now: at(146)}).Story
	want := "Ink viscosity went from 4.95 at 12:43 to 3.86 at 14:24, band 3.51 to 4.29, with 26 of 33 readings in band and 2 faults. " +
		"The hold runs since 13:48, 36 min of 60 min proven after 1 hold that did not count, ended by 3.45 at 13:45."
	if story != want {
		t.Errorf("story %s", story)
	}
}

func roles(c chart.Chart, role chart.Role) (n int, texts []string) {
	for _, m := range c.Marks {
		switch {
		case m.Role != role:
		case m.Text != "":
			texts = append(texts, m.Text)
		default:
			n++
		}
	}
	return n, texts
}

func TestSettling(t *testing.T) {
	t.Run("only_what_ended_a_hold_is_red_and_named", func(t *testing.T) {
		n, texts := roles(chart.Settling(morning(145).judged(), chart.Options{Now: at(146)}), chart.RoleBroke)
		if n != 1 || fmt.Sprint(texts) != "[3.45, out low]" {
			t.Errorf("%d red, %v", n, texts)
		}
	})
	t.Run("before_the_first_hold_what_is_out_is_no_alarm", func(t *testing.T) {
		c := chart.Settling(newScene(30*time.Minute).every(0, 3, 5, 4.9, 4.8).judged(), chart.Options{Now: at(9)})
		if n, _ := roles(c, chart.RoleBroke); n != 0 {
			t.Errorf("%d red", n)
		}
		if n, _ := roles(c, chart.RoleOut); n != 3 {
			t.Errorf("%d diamonds", n)
		}
	})
	t.Run("a_hold_of_less_than_a_minute_is_told_in_seconds", func(t *testing.T) {
		c := chart.Settling(newScene(30*time.Minute).every(0, 0.5, 4, 4).judged(), chart.Options{Now: at(1)})
		if _, texts := roles(c, chart.RoleLive); fmt.Sprint(texts) != "[30 s proven]" || !strings.Contains(c.Story, "30 s of 30 min proven") {
			t.Errorf("%v, %s", texts, c.Story)
		}
	})
	t.Run("the_line_never_joins_across_a_gap", func(t *testing.T) {
		c := chart.Settling(newScene(30*time.Minute).every(0, 3, 4, 4, 4).every(14, 3, 4, 4).judged(), chart.Options{Now: at(18)})
		if n, _ := roles(c, chart.RoleLine); n != 2 {
			t.Errorf("%d lines", n)
		}
		if n, _ := roles(c, chart.RoleGap); n != 1 {
			t.Errorf("%d posts", n)
		}
	})
	t.Run("a_gap_as_long_as_allowed_joins", func(t *testing.T) {
		c := chart.Settling(newScene(30*time.Minute).reading2(0, 7).judged(), chart.Options{Now: at(8)})
		if n, _ := roles(c, chart.RoleLine); n != 1 {
			t.Errorf("%d lines", n)
		}
	})
	t.Run("paper_has_no_now_and_nothing_to_come", func(t *testing.T) {
		c := chart.Settling(morning(145).judged(), chart.Options{Now: at(146), Paper: true})
		for _, role := range []chart.Role{chart.RoleNow, chart.RoleRest, chart.RoleEarly} {
			if n, _ := roles(c, role); n != 0 {
				t.Errorf("%d of %s", n, role)
			}
		}
	})
	t.Run("many_points_keep_all_that_are_out", func(t *testing.T) {
		s := newScene(60 * time.Minute)
		for i := range 3000 {
			v := 3.9
			if i%100 == 50 {
				v = 4.6
			}
			s.reading(float64(i)/20, v)
		}
		c := chart.Settling(s.judged(), chart.Options{Now: at(150), Paper: true})
		out, _ := roles(c, chart.RoleOut)
		broke, _ := roles(c, chart.RoleBroke)
		in, _ := roles(c, chart.RolePoint)
		if out+broke != 30 || in > 1000 {
			t.Errorf("%d out, %d broke, %d in", out, broke, in)
		}
	})
	t.Run("the_range_is_the_same_for_every_run_of_a_quantity", func(t *testing.T) {
		band := func(values ...float64) [4]float64 {
			for _, m := range chart.Settling(newScene(30*time.Minute).every(0, 3, values...).judged(), chart.Options{Now: at(9)}).Marks {
				if m.Role == chart.RoleBand {
					x0, y0, x1, y1 := extent(m)
					return [4]float64{x0, y0, x1, y1}
				}
			}
			return [4]float64{}
		}
		if a, b := band(4.9, 4.5, 4.2), band(3.6, 3.7, 3.8); a != b {
			t.Errorf("band %v and %v", a, b)
		}
		if a, b := band(3.9, 3.9), band(9, 3.9); a == b {
			t.Error("a reading far out does not widen the range")
		}
	})
}
