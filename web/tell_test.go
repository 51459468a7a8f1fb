package web_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/jobs"
	"settlemark/internal/mail/mailtest"
	"settlemark/internal/urls"
)

// A device can be told of one run alone: the page of being told offers the run
// from which somebody came, if they may read it.
func TestTellOfOneRun(t *testing.T) {
	s := newBench(t)
	b := s.as("engineer")
	s.start(b)
	link, _ := b.get(urls.Run(s.run) + "/more").page().Find("a[href^='/account/tell']").Attr("href")
	offered := b.get(link).wants(200, "Only of QU-01, R-0001, for the next 24 hours")
	offered.sound("the page of being told of one run")
	only := offered.page().Find("label:not([hidden]) > input[data-only]")
	if got := only.AttrOr("data-only", ""); got != string(s.run) {
		t.Errorf("the choice is of run %q", got)
	}
	if hidden := b.get("/account/tell").page().Find("label[hidden] > input[data-only='']"); hidden.Length() != 1 {
		t.Error("the choice of one run is shown without a run")
	}
	b.get("/account/tell?run="+uuid.NewString()).wants(404, "")
	b.get("/account/tell?run=nonsense").wants(404, "")
}

// Where there is a mail server a person gives an address, is refused what is
// none, and tries it.
func TestTellByMail(t *testing.T) {
	s := newSite(t)
	now := time.Now()
	s.screens.Now = func() time.Time { return now }
	b := s.as("engineer")
	t.Run("is not offered without a mail server", func(t *testing.T) {
		if page := b.get("/account/tell").wants(200, "Tell me").text(); strings.Contains(page, "E-mail address") {
			t.Error("it is")
		}
		b.post("/account/tell/mail", "address", "mira@plant.example").wants(404, "no mail server")
		b.post("/account/tell/mail/try").wants(404, "no mail server")
	})
	desk := mailtest.Open(t, false, "250 ok", "550 nobody of that name")
	s.screens.TryMail = (&jobs.Mail{Server: desk.Server()}).Try
	b.post("/account/tell/mail/try").wants(409, "Save one first")
	b.get("/account/tell").wants(200, "E-mail address").sound("the page of being told")
	for _, odd := range []string{"mira", "mira@plant.example, eve@elsewhere.example", "Mira <mira@plant.example>", "mira@plant.example\r\nBcc: eve@elsewhere.example"} {
		b.post("/account/tell/mail", "address", odd, "events", "ready").wants(422, "This is no e-mail address").sound("the page of being told, refused")
	}
	b.post("/account/tell/mail", "address", "mira@plant.example", "events", "check").wants(422, "Choose from the list")
	b.get("/account/tell")
	b.post("/account/tell/mail", "address", "mira@plant.example", "events", "ready").leadsTo("/account/tell")
	if on := b.get("/account/tell").page().Find("input[name=events][checked]"); on.Length() != 1 || on.AttrOr("value", "") != "ready" {
		t.Errorf("%d events are chosen", on.Length())
	}
	b.post("/account/tell/mail/try").wants(200, "has taken an e-mail to mira@plant.example").sound("the page of an address that was tried")
	if letter := <-desk.Letters; !strings.Contains(letter, "To: <mira@plant.example>") {
		t.Errorf("it sent\n%s", letter)
	}
	b.post("/account/tell/mail/try").wants(429, "You tried it just now. Wait ")
	now = now.Add(time.Minute)
	b.get("/account/tell")
	b.post("/account/tell/mail/try").wants(200, "No e-mail went out")
	s.as("supervisor").get("/account/tell").wants(200, "E-mail address")
	b.post("/account/tell/mail", "address", "", "events", "ready").leadsTo("/account/tell")
	b.post("/account/tell/mail/try").wants(409, "Save one first")
}
