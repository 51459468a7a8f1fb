package mail_test

import (
	"context"
	"crypto/x509"
	"errors"
	"strings"
	"testing"

	"settlemark/internal/mail"
	"settlemark/internal/mail/mailtest"
)

func letter(t *testing.T, d *mailtest.Desk) string {
	t.Helper()
	select {
	case l := <-d.Letters:
		return l
	default:
		t.Fatal("no letter came")
		return ""
	}
}

var hold = mail.Letter{ID: "notice-12.P-0002", To: "mira@plant.example", Subject: "BH-05: Haltezeit erfüllt", Text: "BH-05: Haltezeit erfüllt.\n\nhttps://settlemark.example/runs/1\n"}

func TestSend(t *testing.T) {
	t.Run("over TLS, to one person, with an id of its own", func(t *testing.T) {
		d := mailtest.Open(t, true)
		if err := d.Server().Send(t.Context(), hold); err != nil {
			t.Fatal(err)
		}
		got := letter(t, d)
		for _, want := range []string{"To: <mira@plant.example>\r\n", "From: <settlemark@plant.example>\r\n", "Message-ID: <notice-12.P-0002@plant.example>\r\n", "Auto-Submitted: auto-generated\r\n", "Haltezeit_erf=C3=BCllt", "/runs/1"} {
			if !strings.Contains(got, want) {
				t.Errorf("no %q in\n%s", want, got)
			}
		}
		if !<-d.Sealed {
			t.Error("it went in the clear")
		}
	})
	t.Run("not to a server on the network that knows no TLS", func(t *testing.T) {
		d := mailtest.Open(t, false)
		s := d.Server()
		s.Roots = x509.NewCertPool() // as if it were another machine
		if err := s.Send(t.Context(), hold); err == nil || len(d.Letters) > 0 {
			t.Errorf("sent in the clear, %v", err)
		}
	})
	t.Run("not to a server that nobody vouches for", func(t *testing.T) {
		d := mailtest.Open(t, true)
		s := d.Server()
		s.Roots = x509.NewCertPool()
		if err := s.Send(t.Context(), hold); err == nil || len(d.Letters) > 0 {
			t.Errorf("sent to a stranger, %v", err)
		}
	})
	t.Run("what is put off may be tried again, what is refused may not", func(t *testing.T) {
		d := mailtest.Open(t, false, "451 later", "550 nobody of that name")
		s, refused := d.Server(), mail.RefusedError{}
		if err := s.Send(t.Context(), hold); err == nil || errors.As(err, &refused) {
			t.Errorf("451: %v", err)
		}
		if err := s.Send(t.Context(), hold); !errors.As(err, &refused) {
			t.Errorf("550: %v", err)
		}
		if err := s.Send(t.Context(), hold); err != nil || len(d.Letters) != 1 {
			t.Errorf("then: %v", err)
		}
	})
	t.Run("an unreachable server may be tried again", func(t *testing.T) {
		d := mailtest.Open(t, false)
		s, refused := d.Server(), mail.RefusedError{}
		d.Close()
		if err := s.Send(context.Background(), hold); err == nil || errors.As(err, &refused) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("no text becomes a header, no address another one", func(t *testing.T) {
		d := mailtest.Open(t, false)
		sly := hold
		sly.Subject, sly.ID = "BH-05\r\nBcc: eve@elsewhere.example\r\n\r\nhello", "1\r\nX-Odd: 1"
		if err := d.Server().Send(t.Context(), sly); err != nil {
			t.Fatal(err)
		}
		head, _, _ := strings.Cut(letter(t, d), "\r\n\r\n")
		for _, line := range strings.Split(head, "\r\n") {
			if strings.HasPrefix(line, "Bcc") || strings.HasPrefix(line, "X-Odd") {
				t.Errorf("a header of its own: %q", line)
			}
		}
		for _, to := range []string{
			"mira@plant.example\r\nBcc: eve@elsewhere.example", "mira@plant.example, eve@elsewhere.example", "Eve <eve@elsewhere.example>",
			"<mira@plant.example>", "mira", "", "mira@plant.example\x00", `"a b"@plant.example`, "mira@plant.example>\r\nRCPT TO:<eve@elsewhere.example",
			strings.Repeat("a", 250) + "@plant.example",
		} {
			sly := hold
			sly.To = to
			if refused := (mail.RefusedError{}); !errors.As(d.Server().Send(t.Context(), sly), &refused) || len(d.Letters) > 0 {
				t.Errorf("%q was taken as an address", to)
			}
		}
	})
}

func TestRead(t *testing.T) {
	for address, want := range map[string]mail.Server{
		"smtp://mail.plant.example":           {Host: "mail.plant.example", Port: 587},
		"smtps://mail.plant.example":          {Host: "mail.plant.example", Port: 465, TLS: true},
		"smtp://settle@mail.plant.example:25": {Host: "mail.plant.example", Port: 25, User: "settle", Password: "secret"},
	} {
		want.From = "settlemark@plant.example"
		if got, err := mail.Read(address, want.From, want.Password); got != want || err != nil {
			t.Errorf("%s: %+v, %v", address, got, err)
		}
	}
	for address, password := range map[string]string{
		"http://mail.plant.example": "", "mail.plant.example": "", "smtp://u:p@mail.plant.example": "x", "smtp://u@mail.plant.example": "", "smtp://mail.plant.example/x": "",
	} {
		if _, err := mail.Read(address, "settlemark@plant.example", password); err == nil {
			t.Errorf("%s was taken", address)
		}
	}
	if _, err := mail.Read("smtp://mail.plant.example", "Settlemark <s@plant.example>", ""); err == nil {
		t.Error("a sender with a name was taken")
	}
}
