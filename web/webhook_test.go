package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"settlemark/internal/jobs"
	"settlemark/internal/webhook"
	"settlemark/templates"
)

// An administrator tries a receiver of webhooks and reads what it answered; the
// page shows its host and nothing that would let anybody speak for the site.
func TestTryReceiver(t *testing.T) {
	const secret = "a secret of this receiver"
	s := newSite(t)
	now := time.Now()
	s.screens.Now = func() time.Time { return now }
	status, body := http.StatusNoContent, ""
	receiver := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		got, _ := io.ReadAll(r.Body)
		body = string(got)
		if r.Header.Get("Settlemark-Signature") != webhook.Sign(secret, r.Header.Get("Settlemark-Timestamp"), got) {
			t.Error("the signature is not right")
		}
		w.WriteHeader(status)
	}))
	defer receiver.Close()
	sender := webhook.New(nil, time.Now)
	sender.Refuse = func(netip.AddrPort) error { return nil } // the receiver is on this machine
	target := webhook.Target{Name: "stack light", URL: receiver.URL + "/hidden-path", Secret: secret, Plain: true}
	s.screens.Receivers = []templates.Receiver{{Name: target.Name, Host: target.Host()}}
	s.screens.TryWebhook = jobs.Webhooks{Sender: sender, Targets: []webhook.Target{target}}.Try

	for _, login := range []string{"engineer", "supervisor", "quality"} {
		b := s.as(login)
		if strings.Contains(b.get("/account/tell").text(), "stack light") {
			t.Errorf("%s sees the receiver", login)
		}
		b.post("/account/tell/webhook/try", "target", "stack light").wants(403, "Only an administrator")
	}
	b := s.as("administrator")
	page := b.get("/account/tell").wants(200, "Send a test to stack light at "+target.Host())
	page.sound("the page of being told, with webhooks")
	if strings.Contains(page.body, secret) || strings.Contains(page.body, "hidden-path") {
		t.Error("the page shows more than the host")
	}
	b.post("/account/tell/webhook/try", "target", "another").wants(422, "There is no such receiver")
	if body != "" {
		t.Fatalf("it was told %s", body)
	}
	b.post("/account/tell/webhook/try", "target", "stack light").wants(200, "stack light has taken a test.").sound("the page of a receiver that took a test")
	if !strings.Contains(body, `"event":"test"`) || !strings.Contains(body, "Nothing has happened") {
		t.Errorf("it was told %s", body)
	}
	body = ""
	b.post("/account/tell/webhook/try", "target", "stack light").wants(429, "You tried it just now. Wait ")
	if body != "" {
		t.Errorf("it was told %s", body)
	}
	now, status = now.Add(time.Minute), http.StatusServiceUnavailable
	b.get("/account/tell")
	b.post("/account/tell/webhook/try", "target", "stack light").wants(200, "answered with status 503, so it did not take the test")
	now = now.Add(time.Minute)
	receiver.Close()
	b.get("/account/tell")
	b.post("/account/tell/webhook/try", "target", "stack light").wants(200, "stack light was not reached")
}
