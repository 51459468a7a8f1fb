package web_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

func TestInstrumentsOfARun(t *testing.T) {
	b := newBench(t)
	works := strconv.FormatInt(int64(b.works.ID), 10)
	admin, who := b.as("administrator"), b.as("engineer")
	for _, i := range [][]string{
		{"code", "T-03", "name", "Probe thermometer", "quantity", "temperature", "uncertainty", "0.3", "unit", "K", "due", "2001-02-03"},
		{"code", "V-12", "name", "Viscometer", "quantity", "viscosity", "uncertainty", "2", "unit", "%", "due", "2999-01-31"},
	} {
		admin.post("/instruments", append(i, "key", "", "site", works, "serial", "88 102", "k", "2")...).leadsTo("/instruments")
	}
	page := who.get(urls.RunStartPattern).page()
	var ids []string
	page.Find("input[type=checkbox][name=instruments]").Each(func(_ int, e *goquery.Selection) { ids = append(ids, e.AttrOr("value", "")) })
	if len(ids) != 2 {
		t.Fatalf("boxes for %v", ids)
	}
	if text := page.Find("#field-instruments .tick").First().Text(); !strings.Contains(text, "T-03") || !strings.Contains(text, "2001-02-03, overdue") {
		t.Errorf("the overdue one is not marked: %q", text)
	}
	open := []string{
		"id", page.Find("input[name=id]").AttrOr("value", ""), "unit", "QU-01", "procedure", "return-to-service/1", "bench", "", "instruments", ids[0],
	}
	t.Run("one_that_is_not_of_the_site_is_refused_and_the_ticks_are_kept", func(t *testing.T) {
		a := who.post(urls.RunsPattern, append(open, "instruments", "999")...).wants(422, "Choose instruments of the unit's own site")
		if a.page().Find("#field-instruments input[checked]").Length() != 1 || a.page().Find("#summary a[href='#field-instruments']").Length() != 1 {
			t.Error("the form forgot the tick, or does not lead to it")
		}
		a.sound("the start page")
		who.post(urls.RunsPattern, append(open, "instruments", "T-03")...).wants(422, "Tick instruments of the list")
	})
	a := who.post(urls.RunsPattern, append(open, "instruments", ids[1])...)
	if a.status != http.StatusSeeOther {
		t.Fatalf("no run: %d %s", a.status, a.text())
	}
	b.run = commissioning.RunID(strings.TrimPrefix(a.header.Get("Location"), "/runs/"))
	run, review := urls.Run(b.run), urls.Review(b.run)
	t.Run("the_run_and_its_review_show_them_and_warn_of_the_overdue_one", func(t *testing.T) {
		who.get(run).reads("Measured with", "T-03, temperature", "2001-02-03, overdue", "due 2999-01-31")
		b.as("supervisor").get(review).wants(200, "Measured with", "Probe thermometer, serial 88 102, temperature: 0.3 K, k = 2")
	})
	t.Run("the_first_reading_with_it_waits_for_a_supervisor", func(t *testing.T) {
		b.pass(time.Minute)
		b.reads(who, "temperature", "25").taken()
		who.get(run).reads("1 ruling", "The calibration of T-03 (Probe thermometer) was due on 2001-02-03")
	})
	t.Run("a_ruling_settles_it_and_the_review_goes_on_naming_it", func(t *testing.T) {
		supervisor := b.as("supervisor")
		form := supervisor.get(review).wants(200, "Needs a ruling").page().Find("form[action='" + urls.Ruling(b.run) + "']")
		rule := fields(form)
		rule.Set("reason", "Compared with another")
		rule.Set("decision", "accept")
		if a := supervisor.do(http.MethodPost, urls.Ruling(b.run), rule); a.status != http.StatusSeeOther {
			t.Fatalf("%d %s", a.status, a.text())
		}
		page := supervisor.get(review).wants(200, "Ruled on", "Compared with another", "calibration due 2001-02-03, overdue")
		if strings.Contains(page.text(), "Needs a ruling") {
			t.Error("it still needs a ruling")
		}
	})
}
