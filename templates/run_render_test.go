package templates_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
)

func render(t *testing.T, c templ.Component) *goquery.Document {
	t.Helper()
	var b strings.Builder
	if err := c.Render(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func page(t *testing.T, v templates.RunView) *goquery.Document {
	t.Helper()
	return render(t, templates.RunPage(templates.Frame{Title: words.Say("Run"), Person: v.Viewer, Site: v.Site, Now: v.Now}, v))
}

// said is the text of an element, spaces joined.
func said(doc *goquery.Document, selector string) string {
	return strings.Join(strings.Fields(doc.Find(selector).Text()), " ")
}

func TestLead(t *testing.T) {
	for name, c := range map[string]struct {
		view   templates.RunView
		number string
		word   string
		says   string
	}{
		"nothing_read":                          {tell(t).until("Settle").view(60), "60", "No check yet", "starts with the first check in band"},
		"not_started":                           {tell(t).view(1), "60", "Not started", "after the first start"},
		"above_the_band_is_no_alarm":            {tell(t).until("Settle").read(60, "5.40").view(61), "60", "Not in band yet", "5.40 at 12:30 is above 4.95."},
		"holding_counts_from_the_proven_check":  {soaking(t).view(175), "23", "In band, holding", "Complete at 14:48 if every check stays in band."},
		"rounds_up_to_whole_minutes":            {soaking(t).view(175.5), "23", "In band, holding", "Complete at 14:48"},
		"out_of_band_stops_the_hold_at_once":    {soaking(t).read(177, "3.90").view(177), "60", "Hold stopped", "3.90 at 14:27 is below 4.05. Starts again with the next check in band."},
		"a_late_check_is_said":                  {soaking(t).view(178), "20", "Check late", "One was due at 14:27. Without one by 14:31 the hold starts again."},
		"silence_stops_the_hold":                {soaking(t).view(182), "60", "Hold stopped", ""},
		"never_zero_by_the_passing_of_time":     {ending(t).view(198.2), "1", "Waiting for the 14:48 check", "the next check in band proves it"},
		"complete_shows_what_was_held":          {ending(t).read(198, "4.44").view(199), "60", "Hold complete", "Proven from 13:48 to 14:48."},
		"a_completed_hold_needs_fresh_readings": {ending(t).read(198, "4.44").view(240), "60", "Needs a fresh reading", "nothing was heard since 14:48"},
	} {
		t.Run(name, func(t *testing.T) {
			l := c.view.Lead()
			if l.Number != c.number || l.Word.String() != c.word || !strings.Contains(l.Say.String(), c.says) {
				t.Errorf("%s min, %q: %q", l.Number, l.Word, l.Say)
			}
		})
	}
}

// ending is the soaking story up to its last check before the hour is full.
func ending(t *testing.T) *story {
	return soaking(t).read(177, "4.44", "4.44", "4.44", "4.44", "4.44", "4.44", "4.44")
}

func TestFaults(t *testing.T) {
	s := tell(t).until("Settle")
	for i := range 3 {
		ref := s.fault(60+4*float64(i), "gutter")
		if i < 2 {
			s.cleared(62+4*float64(i), ref)
			s.add(63+4*float64(i), commissioning.Entry{Kind: commissioning.KindStart})
		}
	}
	v := s.view(70)
	if l := v.Lead(); l.Word.String() != "Fault open" || !strings.Contains(l.Say.String(), "Gutter fault since 12:38") {
		t.Errorf("%q: %q", l.Word, l.Say)
	}
	v.Section = 6
	doc := page(t, v)
	if n := doc.Find(".place.cleared").Length(); n != 2 {
		t.Errorf("%d places are cleared, wants 2", n)
	}
	if n := doc.Find(".place.open").Length(); n != 1 {
		t.Errorf("%d places are open, wants 1", n)
	}
	if n := doc.Find(".place.empty").Length(); n != 2 {
		t.Errorf("%d pressure places are empty, wants 2", n)
	}
	if act := said(doc, "#gates .need.bad .btn"); act != "Say it is cleared" {
		t.Errorf("the open fault asks for %q", act)
	}
	faults := render(t, templates.FaultPage(templates.Frame{Person: v.Viewer, Site: v.Site, Now: v.Now}, v))
	if n := faults.Find("form[data-form^='clear-']").Length(); n != 1 {
		t.Errorf("%d forms to clear a fault, wants 1", n)
	}
}

func TestOddRuns(t *testing.T) {
	t.Run("names_that_are_long_or_hostile_are_text", func(t *testing.T) {
		s := tell(t).until("First flush")
		s.add(30, commissioning.Entry{Kind: commissioning.KindNote, Text: `<script>alert("x")</script>` + strings.Repeat("wide ", 200)})
		v := s.view(31)
		v.Unit.Tag, v.Names["P-0004"] = `<b>BH"14'`, strings.Repeat("Maximiliana ", 20)
		doc := page(t, v)
		if doc.Find("main script, .unit b").Length() != 0 || said(doc, ".unit") != `<b>BH"14'` {
			t.Error("markup in a name became markup")
		}
		book := render(t, templates.LogbookPage(templates.Frame{Person: v.Viewer, Site: v.Site, Now: v.Now}, v, templates.LogbookPages{Total: len(v.Entries)}))
		if !strings.Contains(said(book, "#entry-9"), `<script>alert("x")</script>`) {
			t.Error("the note cannot be read in the logbook")
		}
	})
	t.Run("no_more_than_four_needs_stand_open", func(t *testing.T) {
		s := tell(t).until("Refill")
		s.answer(40, s.p.Sections[4].Steps[0])
		s.entries[len(s.entries)-1].Fluid = "K-31"
		s.add(41, commissioning.Entry{Kind: commissioning.KindDrain, Step: "drain-3", Container: "waste", VolumeML: "700"})
		s.fault(42, "level")
		doc := page(t, s.view(43))
		if n := doc.Find("#gates .need").Length(); n != 4 {
			t.Errorf("%d needs, wants 4", n)
		}
		if more := said(doc, "#gates .more"); !strings.HasPrefix(more, "and ") {
			t.Errorf("the rest reads %q", more)
		}
		if first := said(doc, "#gates .need:first-child b"); !strings.HasPrefix(first, "Level fault") {
			t.Errorf("the first need is %q", first)
		}
	})
	t.Run("a_refused_form_keeps_what_was_typed_and_opens_its_line", func(t *testing.T) {
		v := tell(t).until("First flush").view(30)
		v.Typed = templates.Typed{Form: "flush-1-load", Values: map[string][]string{"fluid": {"K-2"}, "lot": {"77"}, "id": {"same"}}, Err: problem.On("fluid_again", "The two codes differ.")}
		doc := page(t, v)
		if got := doc.Find("#flush-1-load-fluid").AttrOr("value", ""); got != "K-2" {
			t.Errorf("the code holds %q", got)
		}
		if doc.Find("#line-flush-1-load[open]").Length() != 1 || said(doc, "#flush-1-load-refused") != "The two codes differ." {
			t.Error("the line is shut, or says nothing")
		}
		if id := doc.Find("form[data-form='flush-1-load'] input[name=id]").AttrOr("value", ""); id != "same" {
			t.Errorf("the form's id is %q, so a second click would store twice", id)
		}
		if again := doc.Find("#flush-1-load-fluid_again"); again.AttrOr("aria-invalid", "") != "true" || again.AttrOr("aria-describedby", "") == "" {
			t.Error("the wrong field does not say so")
		}
	})
	t.Run("a_shut_section_has_no_form_and_says_when_it_opens", func(t *testing.T) {
		v := soaking(t).view(175)
		doc := page(t, v)
		if n := doc.Find("#section-9 form, #section-10 form").Length(); n != 0 {
			t.Errorf("%d forms after the hold", n)
		}
		if next := said(doc, ".after-here"); next != "Sampleopens 14:48 at the earliest" {
			t.Errorf("next is %q", next)
		}
	})
	t.Run("a_late_entry_shows_both_times", func(t *testing.T) {
		s := tell(t).until("Settle")
		typed := s.at(90)
		s.add(60, commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: "4.40", Unit: "mPa.s", CapturedAt: &typed})
		v := s.view(91)
		book := render(t, templates.LogbookPage(templates.Frame{Person: v.Viewer, Site: v.Site, Now: v.Now}, v, templates.LogbookPages{Total: len(v.Entries)}))
		if row := said(book, "tr:last-child"); !strings.Contains(row, "typed 30 min later") {
			t.Errorf("the logbook says %q", row)
		}
	})
}

func TestPieces(t *testing.T) {
	s := ending(t).read(198, "4.44")
	s.add(199, commissioning.Entry{Kind: commissioning.KindStep, Step: "levels", Outcome: "done", Choice: "Yes, both"})
	s.add(200, commissioning.Entry{Kind: commissioning.KindPhoto, Step: "sample", SHA256: strings.Repeat("0", 64), MediaType: "image/jpeg"})
	s.add(201, commissioning.Entry{Kind: commissioning.KindStep, Step: "sample", Outcome: "done", Text: "SECRET 0412"})
	v := s.view(202)
	seen := map[string]string{}
	for _, who := range []*commissioning.Person{nil, v.Viewer, {ID: "P-0009", Name: "Somebody"}} {
		v.Viewer, v.Section = who, len(seen)
		for _, p := range templates.RunPieces(v) {
			var b strings.Builder
			if err := p.Body.Render(context.Background(), &b); err != nil {
				t.Fatal(err)
			}
			if old, ok := seen[p.Name]; ok && old != b.String() {
				t.Errorf("piece %s depends on who looks, or on the section shown", p.Name)
			}
			if strings.Contains(b.String(), "SECRET") || strings.Contains(b.String(), "<form") {
				t.Errorf("piece %s holds the sample's text, or a form", p.Name)
			}
			seen[p.Name] = b.String()
		}
	}
	doc := page(t, v)
	delete(seen, "record") // its place is on the review page, and
	delete(seen, "told")   // that of this in the frame of whoever is told
	for name := range seen {
		if doc.Find("#"+name+"[sse-swap='"+name+"']").Length() != 1 {
			t.Errorf("no place on the page for piece %s", name)
		}
	}
}

func TestSiteTime(t *testing.T) {
	v := tell(t).view(1)
	if got := v.Clock(time.Date(2026, 11, 24, 11, 5, 59, 0, time.UTC)); got != "11:05" {
		t.Errorf("today reads %q", got)
	}
	if got := v.Clock(time.Date(2026, 11, 23, 23, 5, 0, 0, time.UTC)); got != "2026-11-23 23:05" {
		t.Errorf("yesterday reads %q", got)
	}
}
