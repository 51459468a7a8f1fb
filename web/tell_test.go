package web_test

import (
	"strings"
	"testing"
	"time"

	"settlemark/internal/jobs"
	"settlemark/internal/mail/mailtest"
)

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
