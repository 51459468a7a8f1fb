package web_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

func TestRun(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	run := urls.Run(b.run)
	t.Run("a_new_run_opens_at_its_first_line", func(t *testing.T) {
		a := who.get(run).wants(200, "Make safe", "Serial number as it stands on the unit's type plate", "Before you start")
		a.sound("a new run")
		if open := a.page().Find(".card:not([hidden]) .line[open]"); open.Length() != 1 || open.AttrOr("id", "") != "line-serial" {
			t.Errorf("%d lines are open, the first is %q", open.Length(), open.AttrOr("id", ""))
		}
		if n := a.page().Find(".step.done").Length(); n != 0 {
			t.Errorf("%d notches before the first answer", n)
		}
	})
	b.until(who, "Settle")
	t.Run("every_line_that_is_answered_shows_its_value_and_cuts_its_notch", func(t *testing.T) {
		a := who.get(run)
		a.sound("a run that settles")
		doc := a.page()
		if n := doc.Find(".step.done").Length(); n != 7 {
			t.Errorf("%d notches, wants 7", n)
		}
		if found := strings.Join(strings.Fields(doc.Find("#found-drain-1").Text()), " "); !strings.HasPrefix(found, "205.5 mL") {
			t.Errorf("the drain shows %q", found)
		}
		a.wants(200, "60", "of hold needed", "No check yet")
	})
	t.Run("estimates_are_reckoned_with_the_readers_own_numbers", func(t *testing.T) {
		// Two flushes of 205.5 mL: (50/255.5)² = 3.83 %, (100/305.5)² = 10.7 %.
		a := who.get(urls.Estimates(b.run)).wants(200, "About 3.8 % of the old fluid is left after 2 flushes", "nothing here decides a gate")
		a.sound("the estimates")
		who.get(urls.Estimates(b.run)+"?left=100").wants(200, "About 11 % of the old fluid is left after 2 flushes", "100 mL stay behind")
		who.get(urls.Estimates(b.run)+"?left=x").wants(422).gives("left", "x", "is no number")
		who.get(urls.Estimates(b.run)+"?mixing=11").wants(422).gives("mixing", "11", "It lies between 1 and 10")
	})
	t.Run("a_cup_that_cannot_read_the_fluid_refuses_it_and_one_that_can_leaves_a_note", func(t *testing.T) {
		page := urls.Cup(b.run)
		who.get(page).wants(200, "It decides nothing").sound("the cup")
		who.get(urls.Reading(b.run, "viscosity")).wants(200, "Check with a cup")
		before := b.entries()
		// By the bare formula this would be −9.9 mm²/s.
		b.send(who, page, "flow-cup", "cup", "zahn-1", "seconds", "20", "celsius", "23").wants(422, "The fluid is too thin for this cup", "Nothing was converted").sound("a refused cup")
		b.send(who, page, "flow-cup", "cup", "iso-4", "seconds", "101", "celsius", "23").wants(422, "too thick for this cup")
		b.send(who, page, "flow-cup", "cup", "", "seconds", "40", "celsius", "23").wants(422, "Choose the cup")
		b.send(who, page, "flow-cup", "cup", "iso-4", "seconds", "40", "celsius", "").wants(422, "Type the temperature of the sample")
		b.send(who, page, "flow-cup", "cup", "iso-3", "seconds", "57", "celsius", "23", "density", "950").wants(422, "Check the unit")
		if n := b.entries(); n != before {
			t.Fatalf("%d entries, was %d", n, before)
		}
		b.send(who, page, "flow-cup", "cup", "iso-3", "seconds", "57", "celsius", "23,0", "density", "0.95").taken()
		// 21.7422 mm²/s × 0.95 g/mL = 20.655 mPa·s.
		who.get(urls.Logbook(b.run)).wants(200, "ISO 2431, 3 mm: 57 s at 23.0 °C, 21.74 mm²/s, with 0.95 g/mL 20.66 mPa·s")
		b.send(who, page, "flow-cup", "cup", "iso-3", "seconds", "57", "celsius", "23").taken()
		who.get(urls.Logbook(b.run)).wants(200, "21.74 mm²/s; no density, so no mPa·s")
	})
	t.Run("a_fault_is_reported_and_cleared_and_the_jet_started_again", func(t *testing.T) {
		b.pass(time.Minute)
		b.send(who, urls.Fault(b.run), "fault", "fault", "pressure").taken()
		who.get(run).wants(200, "Fault open", "Pressure fault since")
		a := who.get(urls.Fault(b.run)).wants(200, "Pressure fault, open since")
		name := a.page().Find("form[data-form^='clear-']").AttrOr("data-form", "")
		b.pass(time.Minute)
		b.send(who, urls.Fault(b.run), name, "how", "bled the line").taken()
		b.pass(time.Minute)
		b.send(who, urls.Fault(b.run), "restart").taken()
		who.get(urls.Fault(b.run)).wants(200, "1 fault, cleared")
	})
	t.Run("readings_settle_one_excursion_stops_the_hold_and_it_completes_later", func(t *testing.T) { b.soak(t, who) })
	b.finish(who)
	t.Run("the_engineer_signs_and_nothing_can_be_added", func(t *testing.T) { b.signs(t, who) })
}

// soak types readings until the hold is complete.
func (b *bench) soak(t *testing.T, who *browser) {
	run := urls.Run(b.run)
	check := func(value string, pairs ...string) {
		t.Helper()
		b.pass(3 * time.Minute)
		b.reads(who, "ready", "true").taken()
		b.reads(who, "viscosity", value, pairs...).taken()
	}
	check("5.40")
	who.get(run).wants(200, "Not in band yet", "5.40 at", "is above 4.95")
	check("4.90")
	check("4.60")
	check("4.50")
	who.get(run).reads("54min", "left in hold", "In band, holding", "6 of 60 min", "next check in 3:00")
	check("3.90")
	who.get(run).reads("60min", "Hold stopped", "3.90 at", "is below 4.05", "stay on the record but do not count")
	for range 20 {
		check("4.40")
	}
	b.pass(3*time.Minute + 10*time.Second)
	who.get(run).wants(200, "Waiting for the")
	b.send(who, run, "levels", "choice", "Yes, both").taken()
	check("4.40")
	who.get(urls.RunStep(b.run, 8)).wants(200, "Hold complete", "Leave the unit running. Next: Sample.")
	who.get(run).wants(200, "Photo of the print")
}

// finish answers what is left after the hold, with readings in between.
func (b *bench) finish(who *browser) {
	p, err := b.db.Procedure(b.t.Context(), "return-to-service", 1)
	b.must(err)
	after := false
	for _, section := range p.Sections {
		for _, step := range section.Steps {
			if after {
				b.answer(who, step.ID)
			}
		}
		after = after || section.Title == "Soak"
	}
}

func (b *bench) signs(t *testing.T, who *browser) {
	a := who.get(urls.Submit(b.run)).wants(200, "Look at these first", "started again", "I did this work and recorded it as it happened")
	a.sound("the submit page")
	sign := fields(a.page().Find("form[action='" + urls.Submit(b.run) + "']"))
	sign.Set("password", "wrong wrong wrong")
	sign.Set("code", b.code())
	wrong := who.do(http.MethodPost, urls.Submit(b.run), sign)
	if wrong.status < 400 || strings.Contains(wrong.body, "wrong wrong") {
		t.Errorf("a wrong password answers %d, and may not come back", wrong.status)
	}
	sign.Set("password", password)
	sign.Set("code", b.code())
	who.do(http.MethodPost, urls.Submit(b.run), sign).leadsTo(urls.Run(b.run))
	a = who.get(urls.Run(b.run)).wants(200, "Signed, waiting for the second signature")
	if n := a.page().Find("main form").Length(); n != 0 {
		t.Errorf("%d forms on a submitted run", n)
	}
	before := b.entries()
	values := map[string][]string{"id": {b.uuid()}, "kind": {"note"}, "form": {"note"}, "text": {"too late"}}
	who.do(http.MethodPost, urls.Entries(b.run), values).reads("is submitted").wants(409)
	if b.entries() != before {
		t.Error("a submitted run took an entry")
	}
}

func (b *bench) personCode(login string) string {
	return b.text(fmt.Sprintf("select id from persons where login = '%s'", login))
}

func (b *bench) uuid() string { return b.text("select gen_random_uuid()::text") }

func TestRunReaders(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.answer(who, "serial")
	for _, login := range []string{"supervisor", "quality", "mate"} {
		a := b.as(login).get(urls.Run(b.run)).wants(200, "holds the pen of this run. You are watching.")
		a.sound("the run as " + login)
		if n := a.page().Find("main form").Length(); n != 0 {
			t.Errorf("%s finds %d forms", login, n)
		}
	}
	b.as("administrator").get(urls.Run(b.run)).wants(404)
	other, err := b.acts.SaveSite(t.Context(), b.admin, commissioning.Site{Name: "Elsewhere", TimeZone: "Europe/Lisbon", Paper: "A4"}, time.Now())
	b.must(err)
	b.add("stranger", commissioning.Grant{Role: commissioning.Engineer, Site: other.ID})
	stranger := b.as("stranger")
	for _, path := range []string{"", "/fault", "/more", "/pen", "/submit", "/abandon", "/logbook", "/reading", "/entries/1/correction", "/events", "/photos/" + strings.Repeat("0", 64) + ".jpg"} {
		if a := stranger.get(urls.Run(b.run) + path); a.status != http.StatusNotFound {
			t.Errorf("%s answers a stranger %d", path, a.status)
		}
	}
	before := b.entries()
	if a := stranger.post(urls.Entries(b.run), "id", b.uuid(), "form", "note", "kind", "note", "text", "hello"); a.status != http.StatusNotFound || b.entries() != before {
		t.Errorf("a stranger's note answers %d", a.status)
	}
	t.Run("others_may_add_a_fault_or_a_note_and_nothing_else", func(t *testing.T) {
		mate := b.as("mate")
		b.send(mate, urls.More(b.run), "note", "text", "the extraction is loud").taken()
		b.send(mate, urls.Fault(b.run), "fault", "fault", "level").taken()
		before := b.entries()
		mate.post(urls.Entries(b.run), "id", b.uuid(), "form", "jet-off", "kind", "step", "step", "jet-off", "outcome", "done").
			wants(403, "Take the pen first")
		if b.entries() != before {
			t.Error("somebody without the pen answered a line")
		}
	})
	t.Run("the_pen_is_handed_over_and_both_are_named", func(t *testing.T) {
		mate := b.as("mate")
		mate.get(urls.Pen(b.run)).wants(200, "The engineer holds it now").sound("the pen page")
		mate.post(urls.Pen(b.run), "id", b.uuid(), "form", "pen", "note", " ").wants(422, "Say why you take the pen").sound("the pen page, refused")
		b.send(who, urls.Pen(b.run), "handover", "text", "the drain is slow").reads("Choose an engineer of this site")
		b.send(who, urls.Pen(b.run), "handover", "text", "the drain is slow", "to", b.personCode("supervisor")).reads("Choose an engineer of this site")
		before := b.entries()
		b.send(who, urls.Pen(b.run), "handover", "text", "the drain is slow", "to", b.personCode("mate")).taken()
		if b.entries() != before+1 {
			t.Error("a refused hand-over stored something, or the last one did not")
		}
		for _, path := range []string{urls.Run(b.run), urls.Pen(b.run)} {
			mate.get(path).wants(200, "Handed over to The mate", "the drain is slow")
		}
		mate.post(urls.Pen(b.run), "id", b.uuid(), "form", "pen", "note", "").leadsTo(urls.Run(b.run))
		mate.get(urls.Run(b.run)).wants(200, "Handed over to you", "the drain is slow")
		who.get(urls.Run(b.run)).wants(200, "The mate holds the pen of this run since")
		b.answer(mate, "jet-off")
		mate.get(urls.Logbook(b.run)).wants(200, "The engineer", "The mate", "Hands the run over to The mate", "Took the pen from The engineer")
	})
}

func TestRunCorrection(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.until(who, "First flush")
	drain := 7 // the second section's second line
	page := who.get(urls.Correction(b.run, drain)).wants(200, "Correct entry 7", "205.5 mL")
	page.sound("a correction")
	t.Run("needs_a_reason", func(t *testing.T) {
		before := b.entries()
		b.send(who, urls.Correction(b.run, drain), "correction", "replace", "yes", "volume_ml", "199").
			wants(422, "Say why the entry is wrong.").keeps("correction", "volume_ml", "199")
		if b.entries() != before {
			t.Error("stored without a reason")
		}
	})
	t.Run("strikes_out_and_puts_the_right_one_in_its_place", func(t *testing.T) {
		b.send(who, urls.Correction(b.run, drain), "correction", "reason", "read the wrong line", "replace", "yes", "volume_ml", "199").taken()
		doc := who.get(urls.Run(b.run)).page()
		if found := doc.Find("#found-drain-1").Text(); !strings.Contains(found, "199 mL") {
			t.Errorf("the line shows %q", found)
		}
		a := who.get(urls.Logbook(b.run)).wants(200, "Entry 7 struck out, replaced by: 199 mL into waste", "read the wrong line")
		a.sound("the logbook")
		if struck := a.page().Find("#entry-7.struck s"); !strings.Contains(struck.Text(), "205.5 mL") {
			t.Errorf("entry 7 is not struck through and readable: %q", struck.Text())
		}
	})
	t.Run("not_twice", func(t *testing.T) {
		who.get(urls.Correction(b.run, drain)).wants(200, "has struck it out already")
		who.post(urls.Entries(b.run), "id", b.uuid(), "form", "correction", "kind", "correction", "strikes", "7", "reason", "again").wants(422)
	})
	t.Run("of_a_line_opens_it_again", func(t *testing.T) {
		b.send(who, urls.Correction(b.run, 1), "correction", "reason", "wrong plate").taken()
		if doc := who.get(urls.Run(b.run)).page(); doc.Find("#line-serial.todo").Length() != 1 {
			t.Error("the struck line does not ask again")
		}
	})
}

// keeps fails the test when a form has lost what was typed.
func (a answer) keeps(name, field, value string) answer {
	a.t.Helper()
	if got := form(a.t, a.page(), name).Get(field); got != value {
		a.t.Errorf("%s of %s holds %q, wants %q", field, name, got, value)
	}
	return a
}

func TestRunStream(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	watcher := b.as("supervisor")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, watcher.base+urls.RunEvents(b.run), nil)
	b.must(err)
	response, err := watcher.http.Do(r)
	b.must(err)
	defer response.Body.Close()
	heard := make(chan string, 64)
	go func() {
		buf := make([]byte, 1<<16)
		for {
			n, err := response.Body.Read(buf)
			if n > 0 {
				heard <- string(buf[:n])
			}
			if err != nil {
				close(heard)
				return
			}
		}
	}()
	waits := func(word string) {
		t.Helper()
		all, limit := "", time.After(10*time.Second)
		for !strings.Contains(all, word) {
			select {
			case more := <-heard:
				all += more
			case <-limit:
				t.Fatalf("the stream never said %q", word)
			}
		}
	}
	waits("0 of 5 lines")
	b.answer(who, "serial")
	b.screens.Live.Mark(b.run)
	waits("1 of 5 lines")
}

func TestRunTwice(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	values := form(t, who.get(urls.Run(b.run)).page(), "serial")
	values.Set("text", "BP-118")
	for range 3 {
		who.do(http.MethodPost, urls.Entries(b.run), values).taken()
	}
	if n := b.entries(); n != 1 {
		t.Errorf("a form sent three times stored %d entries", n)
	}
	start := who.get(urls.RunStartPattern).page()
	again := []string{"id", string(b.run), "unit", "QU-01", "procedure", "return-to-service/1", "bench", ""}
	who.post(urls.RunsPattern, again...).leadsTo(urls.Run(b.run))
	again[1] = start.Find("input[name=id]").AttrOr("value", "")
	who.post(urls.RunsPattern, again...).wants(409)
	who.get(urls.RunsPattern).wants(200, "QU-01", "Make safe").sound("my runs")
}

func TestRunFragment(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	values := form(t, who.get(urls.Run(b.run)).page(), "serial")
	values.Set("text", "BP-118")
	a := who.do(http.MethodPost, urls.Entries(b.run), values, "HX-Request", "true")
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(a.body))
	b.must(err)
	if a.status != 200 || doc.Find("#line-serial.done").Length() != 1 || doc.Find("#stick[hx-swap-oob]").Length() != 1 {
		t.Errorf("the script gets %d: %s", a.status, fmt.Sprintf("%.300s", a.body))
	}
}
