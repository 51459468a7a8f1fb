package web_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

// draft begins the next revision of a shipped procedure as the engineer and
// gives the address of its form.
func (s *site) draft(key string) string {
	s.t.Helper()
	a := s.as("engineer").post("/drafts", "from", key+"/1")
	if a.status != 303 {
		s.t.Fatalf("no draft: %d %s", a.status, a.text())
	}
	return a.header.Get("Location")
}

func (s *site) draftText() string { return s.text("select text from settlemark.procedure_drafts") }

// filled is a form of a page as a browser would send it, untouched.
func filled(a answer, selector string) (action string, form url.Values) {
	a.t.Helper()
	f := a.page().Find(selector).First()
	if f.Length() == 0 {
		a.t.Fatalf("there is no form %s: %s", selector, a.text())
	}
	form = url.Values{}
	f.Find("input[name],textarea[name]").Each(func(_ int, in *goquery.Selection) {
		value, _ := in.Attr("value")
		if goquery.NodeName(in) == "textarea" {
			value = strings.ReplaceAll(strings.TrimPrefix(in.Text(), "\n"), "\n", "\r\n")
		}
		if kind := in.AttrOr("type", ""); kind == "checkbox" && in.AttrOr("checked", "no") == "no" {
			return
		}
		form.Add(in.AttrOr("name", ""), value)
	})
	f.Find("select[name]").Each(func(_ int, in *goquery.Selection) {
		form.Add(in.AttrOr("name", ""), in.Find("option[selected]").AttrOr("value", ""))
	})
	return f.AttrOr("action", ""), form
}

// The form of every part of every shipped procedure, sent as it came, leaves
// the text as it is, byte for byte; so does the page of its YAML.
func TestDraftRoundTrip(t *testing.T) {
	s := newSite(t)
	shipped, err := commissioning.ShippedProcedures()
	s.must(err)
	for _, yaml := range shipped {
		procedure, err := commissioning.ParseProcedure(yaml)
		s.must(err)
		t.Run(procedure.Key, func(t *testing.T) {
			_, err := s.acts.AddProcedure(t.Context(), nil, yaml, false, time.Now())
			s.must(err)
			page, b := s.draft(procedure.Key), s.as("engineer")
			before := s.draftText()
			if want := strings.Replace(string(yaml), "revision: 1\n", "revision: 2\n", 1); before != want {
				t.Fatalf("the draft begins as\n%s", before)
			}
			forms := 0
			b.get(page).page().Find("a[href*='/part?']").Each(func(_ int, link *goquery.Selection) {
				action, form := filled(b.get(link.AttrOr("href", "")), "form[action*='/part']")
				if a := b.do("POST", action, form); a.status != 303 {
					t.Errorf("%s: %d %s", action, a.status, a.text())
				}
				forms++
			})
			action, form := filled(b.get(page+"/yaml"), "form.yaml")
			b.do("POST", action, form)
			if after := s.draftText(); after != before {
				t.Errorf("the text is now\n%s", after)
			}
			if forms < 40 {
				t.Errorf("only %d parts have a form", forms)
			}
			b.post(page+"/discard", "version", "1", "sure", "yes").leadsTo("/procedures")
		})
	}
}

func TestDraftForm(t *testing.T) {
	s := newSite(t)
	s.must(s.addShipped("return-to-service"))
	page, b := s.draft("return-to-service"), s.as("engineer")
	save := func(at string, pairs ...string) answer {
		t.Helper()
		action, form := filled(b.get(page+"/part?at="+at), "form[action*='/part']")
		for i := 0; i+1 < len(pairs); i += 2 {
			form.Set(pairs[i], pairs[i+1])
		}
		return b.do("POST", action, form)
	}
	t.Run("one_value_changes_and_nothing_else", func(t *testing.T) {
		before := s.draftText()
		save("gates.hold", "soak", "45m").leadsTo(page + "#at-gates.hold")
		if after := s.draftText(); after != strings.Replace(before, "soak: 60m", "soak: 45m", 1) {
			t.Errorf("the text is now\n%s", after)
		}
	})
	t.Run("what_the_loader_refuses_is_kept_and_said_beside_its_line", func(t *testing.T) {
		save("gates.hold", "soak", "a while", "fresh_within", "").leadsTo(page + "#at-gates.hold")
		b.get(page).wants(200, "1 thing to correct", "gates.hold.soak: expected a duration such as 7m or 1h30m")
		beside := b.get(page + "/part?at=gates.hold").page()
		if got := beside.Find("#wrong-soak").Text(); !strings.Contains(got, "expected a duration") || beside.Find(".refusals").Length() != 0 {
			t.Errorf("beside the field stands %q", got)
		}
		b.get(page+"/preview").wants(200, "The preview opens once nothing is left to correct")
		b.get(page+"/submit").wants(200, "It can be submitted once nothing is left to correct")
		doc := b.get(page + "/yaml").page()
		line := doc.Find(".refusals a").AttrOr("href", "")
		_, anchor, _ := strings.Cut(line, "#")
		if got := doc.Find("#" + anchor).Text(); !strings.Contains(got, "soak: a while") || !strings.Contains(got, "expected a duration") {
			t.Errorf("%s leads to %q", line, got)
		}
		if doc.Find(".gutter .is-wrong").Length() != 1 {
			t.Error("the bad line is not marked beside the text")
		}
		save("gates.hold", "soak", "45m", "fresh_within", "30m")
		b.get(page+"/preview").wants(200, "Make safe", "Section 1 of 12")
	})
	t.Run("a_line_that_asks_something_else_gets_its_fields", func(t *testing.T) {
		at := "sections.0.steps.1"
		save(at, "ask", "choice").leadsTo(page + "/part?at=" + at)
		save(at, "options", "off\r\nout of reach").leadsTo(page + "#at-" + at)
		if text := s.draftText(); !strings.Contains(text, "{id: jet-off, ask: choice, text: \"Jet off; nothing moves in the fluid circuit; isolated as the site requires\", options: [off, out of reach]}") {
			t.Errorf("the text is now\n%s", text)
		}
		save(at, "ask", "confirm").leadsTo(page + "#at-" + at)
		if text := s.draftText(); strings.Contains(text, "out of reach") {
			t.Error("the options are still there")
		}
		b.get(page).wants(200, "Jet off")
	})
	t.Run("lines_are_added_moved_and_removed", func(t *testing.T) {
		before := s.draftText()
		items := func(do, index string) answer {
			t.Helper()
			_, form := filled(b.get(page), ".add-item")
			form.Set("list", "sections.1.steps")
			form.Set("index", index)
			form.Set("do", do)
			return b.do("POST", page+"/items", form)
		}
		items("add", "3").leadsTo(page + "/part?at=sections.1.steps.3")
		items("up", "3").leadsTo(page + "#at-sections.1.steps.2")
		b.get(page+"/part?at=sections.1.steps.2").wants(200, "A line")
		items("remove", "2").leadsTo(page + "#at-sections.1.steps.2")
		if after := s.draftText(); after != before {
			t.Errorf("the text is now\n%s", after)
		}
	})
	t.Run("what_the_form_does_not_cover_is_shown_as_it_is_written", func(t *testing.T) {
		s.must(s.addShipped("first-commissioning"))
		other := s.draft("first-commissioning")
		found := false
		for _, at := range []string{"quantities.0", "quantities.1", "quantities.2"} {
			if a := b.get(other + "/part?at=" + at); strings.Contains(a.text(), "The form does not cover target") {
				found = strings.Contains(a.page().Find("details[open] pre").Text(), "curve")
			}
		}
		if !found {
			t.Error("no part shows its curve")
		}
	})
	t.Run("there_is_no_part_but_those_of_the_form", func(t *testing.T) {
		b.get(page+"/part?at=sections.99").wants(404, "There is no such part")
		b.get(page+"/part?at=format").wants(404, "There is no such part")
	})
	t.Run("every_page_of_it_is_sound", func(t *testing.T) {
		for _, rest := range []string{"", "/yaml", "/preview", "/submit", "/part?at=", "/part?at=sections.1.steps.1"} {
			b.get(page + rest).wants(200).sound(rest)
		}
	})
}

// addShipped stores one of the procedures that come with the program.
func (s *site) addShipped(key string) error {
	shipped, err := commissioning.ShippedProcedures()
	for _, yaml := range shipped {
		if strings.Contains(string(yaml), "\nkey: "+key+"\n") {
			_, err = s.acts.AddProcedure(s.t.Context(), nil, yaml, false, time.Now())
		}
	}
	return err
}

func TestTwoPeopleDraft(t *testing.T) {
	s := newSite(t)
	s.must(s.addShipped("return-to-service"))
	page := s.draft("return-to-service")
	first, second := s.as("engineer"), s.as("supervisor")
	t.Run("text_that_came_second_is_kept_in_the_box_beside_what_is_saved", func(t *testing.T) {
		_, mine := filled(first.get(page+"/yaml"), "form.yaml")
		_, theirs := filled(second.get(page+"/yaml"), "form.yaml")
		theirs.Set("text", strings.Replace(theirs.Get("text"), "soak: 60m", "soak: 50m", 1))
		second.do("POST", page+"/yaml", theirs).leadsTo(page + "/yaml")
		mine.Set("text", strings.Replace(mine.Get("text"), "soak: 60m", "soak: 40m", 1))
		a := first.do("POST", page+"/yaml", mine).wants(409, "The supervisor saved this draft after your page was made", "removed", "added", "Save mine over theirs")
		if _, form := filled(a, "form.yaml"); !strings.Contains(form.Get("text"), "soak: 40m") || strings.Contains(s.draftText(), "40m") {
			t.Error("what was typed is lost, or was saved")
		}
		action, again := filled(a, "form.yaml")
		first.do("POST", action, again).leadsTo(page + "/yaml")
		if !strings.Contains(s.draftText(), "soak: 40m") {
			t.Error("saving again does not save it")
		}
	})
	t.Run("a_form_that_came_second_follows_its_line_and_keeps_what_was_typed", func(t *testing.T) {
		action, mine := filled(first.get(page+"/part?at=sections.0.steps.1"), "form[action*='/part']")
		_, move := filled(second.get(page), ".add-item")
		move.Set("list", "sections.0.steps")
		move.Set("index", "1")
		move.Set("do", "down")
		second.do("POST", page+"/items", move).leadsTo(page + "#at-sections.0.steps.2")
		mine.Set("text", "Jet off, and locked")
		a := first.do("POST", action, mine).wants(409, "What you typed is still here, not saved")
		action, again := filled(a, "form[action*='/part']")
		if again.Get("text") != "Jet off, and locked" || !strings.Contains(action, "steps.2") {
			t.Errorf("the form is %s %v", action, again)
		}
		first.do("POST", action, again).leadsTo(page + "#at-sections.0.steps.2")
		first.do("POST", action, again).leadsTo(page + "#at-sections.0.steps.2")
		if text := s.draftText(); !strings.Contains(text, "{id: jet-off, ask: confirm, text: \"Jet off, and locked\"}") || strings.Count(text, "jet-off") != 1 {
			t.Errorf("the text is now\n%s", text)
		}
	})
	t.Run("a_button_pressed_on_an_old_page_changes_nothing", func(t *testing.T) {
		before := s.draftText()
		first.post(page+"/items", "version", "1", "list", "sections", "index", "0", "do", "remove").wants(409, "so nothing was changed")
		if s.draftText() != before {
			t.Error("it did")
		}
	})
	t.Run("both_are_named_and_quality_reads_who_wrote_it", func(t *testing.T) {
		first.get(page).wants(200, "Changed by The engineer, The supervisor.")
	})
}

func TestRevisions(t *testing.T) {
	s := newSite(t)
	s.must(s.addShipped("return-to-service"))
	s.must(s.acts.ApproveProcedure(t.Context(), s.people["quality"], "return-to-service", 1, act.Signing{Proof: act.Proof{Password: password, Code: s.code()}}, time.Now()))
	engineer, quality := s.as("engineer"), s.as("quality")
	submit := func(who *browser, reason string) answer {
		page := who.post("/drafts", "from", "return-to-service/1").header.Get("Location")
		_, form := filled(who.get(page+"/part?at=gates.hold"), "form[action*='/part']")
		form.Set("soak", "45m")
		who.do("POST", page+"/part?at=gates.hold", form)
		_, form = filled(who.get(page+"/submit"), "form[action$='/submit']")
		form.Set("reason", reason)
		return who.do("POST", page+"/submit", form)
	}
	t.Run("a_reason_is_needed", func(t *testing.T) {
		submit(engineer, "").wants(422, "Say why the procedure is changed")
	})
	t.Run("who_wrote_it_sees_that_somebody_else_must_approve", func(t *testing.T) {
		submit(quality, "The plant agreed on less").leadsTo("/procedures/return-to-service/2")
		page := "/procedures/return-to-service/2"
		quality.get(page).wants(200, "The plant agreed on less", "Someone else in quality must approve it", "The quality, with The engineer")
		quality.post(page+"/approve", "nonce", "d-1", "password", password, "code", s.code()).wants(403, "You wrote this revision")
		s.add("second", s.people["quality"].Grants...)
		s.as("second").post(page+"/approve", "nonce", "d-2", "password", password, "code", s.code()).leadsTo(page)
	})
	t.Run("a_rejection_stays_with_its_reason", func(t *testing.T) {
		submit(engineer, "Still less").leadsTo("/procedures/return-to-service/3")
		page := "/procedures/return-to-service/3"
		quality.post(page+"/reject", "reason", "").wants(422, "Say why it is rejected")
		quality.post(page+"/reject", s.proven("reason", "No ground for it")...).leadsTo(page)
		engineer.get(page).wants(200, "Rejected", "No ground for it", "Draft the next revision")
		if n := quality.get(page).page().Find("form[action$='/approve']").Length(); n != 0 {
			t.Error("it is still offered for approval")
		}
	})
	t.Run("the_history_says_who_when_and_why", func(t *testing.T) {
		a := engineer.get("/procedures/return-to-service").wants(200, "Revision 3", "Still less", "No ground for it", "The plant agreed on less",
			s.text("select encode(digest, 'hex') from settlemark.procedures where key = 'return-to-service' and revision = 2"))
		a.sound("the history of a procedure")
	})
	t.Run("two_revisions_are_compared_line_by_line_in_words", func(t *testing.T) {
		a := engineer.get("/procedures/return-to-service/compare?from=1&to=2").wants(200, "2 lines added, 2 removed.")
		a.sound("two revisions compared")
		var rows []string
		a.page().Find(".diff tr.is-added, .diff tr.is-removed").Each(func(_ int, row *goquery.Selection) {
			rows = append(rows, strings.Join(strings.Fields(row.Text()), " "))
		})
		if got := strings.Join(rows, "\n"); !strings.Contains(got, "removedrevision: 1") || !strings.Contains(got, "addedrevision: 2") || !strings.Contains(got, "soak: 45m") {
			t.Error(got)
		}
		engineer.get("/procedures/return-to-service/compare?from=1&to=9").wants(404)
	})
	t.Run("only_the_newest_approved_one_can_be_chosen_for_a_run", func(t *testing.T) {
		text := engineer.get("/runs/new").page().Find("select[name=procedure]").Text()
		if strings.Contains(text, "revision 1") || !strings.Contains(text, "revision 2") || strings.Contains(text, "revision 3") {
			t.Error(text)
		}
		_, form := filled(engineer.get("/runs/new?unit=QU-01"), "form[action='/runs']")
		form.Set("unit", "QU-01")
		form.Set("procedure", "return-to-service/1")
		engineer.do("POST", "/runs", form).wants(409, "Revision 2 of this procedure is approved by now. Choose that one.")
	})
	t.Run("none_once_it_is_retired", func(t *testing.T) {
		quality.post("/procedures/return-to-service/retire", "reason", "").wants(422, "Say why the procedure is retired")
		quality.post("/procedures/return-to-service/retire", s.proven("reason", "The machine is sold")...).leadsTo("/procedures/return-to-service")
		engineer.get("/procedures/return-to-service").wants(200, "The machine is sold")
		if text := engineer.get("/runs/new").page().Find("select[name=procedure]").Text(); strings.Contains(text, "revision") {
			t.Error(text)
		}
	})
	t.Run("a_new_procedure_begins_with_its_key_and_title", func(t *testing.T) {
		engineer.post("/drafts", "key", "Rinse only", "title", "Rinse").wants(422, "small letters, digits and hyphens")
		page := engineer.post("/drafts", "key", "rinse-only", "title", "Rinse only").header.Get("Location")
		engineer.get(page).wants(200, "Draft: Rinse only", "A new procedure, rinse-only.")
		engineer.get("/procedures").wants(200, "Rinse only")
	})
}

func TestNewerRevision(t *testing.T) {
	b := newBench(t)
	engineer := b.as("engineer")
	b.start(engineer)
	run := "/runs/" + string(b.run)
	const said = "Revision 2 of this procedure is approved. This run stays on revision 1."
	page := b.draft("return-to-service")
	_, form := filled(engineer.get(page+"/submit"), "form[action$='/submit']")
	form.Set("reason", "A better wording")
	engineer.do("POST", page+"/submit", form).leadsTo("/procedures/return-to-service/2")
	t.Run("a_run_says_nothing_of_one_that_is_not_approved", func(t *testing.T) {
		if text := engineer.get(run).text(); strings.Contains(text, "Revision 2") {
			t.Error(text)
		}
	})
	b.must(b.acts.ApproveProcedure(t.Context(), b.people["quality"], "return-to-service", 2, act.Signing{Proof: act.Proof{Password: password, Code: b.code()}}, b.clock))
	t.Run("the_run_and_its_review_name_the_newer_one_and_lead_to_what_changed", func(t *testing.T) {
		for who, address := range map[*browser]string{engineer: run, b.as("supervisor"): run + "/review"} {
			a := who.get(address).wants(200, said)
			if link := a.page().Find("a[href='/procedures/return-to-service/compare?from=1&to=2']"); link.Length() != 1 {
				t.Errorf("%s leads to %d comparisons", address, link.Length())
			}
		}
	})
	t.Run("a_run_stays_on_its_own", func(t *testing.T) {
		engineer.get(run).wants(200)
		if revision := b.text("select revision::text from settlemark.runs"); revision != "1" {
			t.Error(revision)
		}
	})
}
