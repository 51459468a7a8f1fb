package templates_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"settlemark/templates"
)

func TestSteadiness(t *testing.T) {
	values := func(n int, v func(i int) float64) []string {
		out := make([]string, n)
		for i := range out {
			out[i] = strconv.FormatFloat(v(i), 'f', 3, 64)
		}
		return out
	}
	for name, c := range map[string]struct {
		values []string
		says   string
		icon   string
	}{
		"in_tolerance_but_drifting_up":   {values(15, func(i int) float64 { return 4.4 + 0.002*float64(i) }), "In tolerance but still drifting up 0.04 mPa·s per hour (90 %: 0.04 to 0.04).", "look"},
		"in_tolerance_but_drifting_down": {values(15, func(i int) float64 { return 4.6 - 0.005*float64(i) }), "drifting down 0.1 mPa·s per hour", "look"},
		"no_drift_seen":                  {values(15, func(i int) float64 { return 4.5 + 0.01*math.Sin(float64(i*i)) }), "No drift seen in 15 readings.", "met"},
		"not_enough_points":              {values(3, func(i int) float64 { return 4.5 }), "Not enough points to say whether it drifts: 3 readings in the hold.", "open"},
		"one_reading_far_off":            {values(15, func(i int) float64 { return 4.5 + 0.01*float64(i%2) + 0.3*float64((i/9)*(i%2)*(i%3/2)) }), "1 of 15 outside", "met"},
	} {
		t.Run(name, func(t *testing.T) {
			run := tell(t).until("Settle").read(60, c.values...).view(60 + 3*float64(len(c.values)-1))
			v := templates.ReviewView{RunView: run}
			rows := v.Steadiness()
			if len(rows) != 1 || !strings.Contains(rows[0].Detail.String(), c.says) || rows[0].Icon != c.icon {
				t.Fatalf("%+v", rows)
			}
			doc := render(t, templates.ReviewPage(templates.Frame{Person: v.Viewer, Site: v.Site, Now: v.Now}, v))
			if pictures := doc.Find("svg[class*=narrow] title[id^=steady-]").Length(); pictures != 1 {
				t.Errorf("%d pictures of the hold", pictures)
			}
			if page := said(doc, "main"); !strings.Contains(page, "How steady it was (advice only)") || !strings.Contains(page, c.says) {
				t.Error("the page does not say it")
			}
		})
	}
}
