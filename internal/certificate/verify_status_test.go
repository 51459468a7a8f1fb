package certificate_test

import (
	"fmt"
	"testing"
	"time"

	"settlemark/internal/certificate"
	"settlemark/internal/ledger"
)

// What a certificate is worth by its state and by how old the list at hand is:
// what a list says ended stays ended; what it doesn't say holds while it does.
func TestStatesAndListAges(t *testing.T) {
	h := newHouse(t, origin, siteSigner)
	in, photos := small(t)
	doc := h.release(in)
	pdf := h.issue(doc, photos)
	until := *in.ValidUntil
	day := 24 * time.Hour
	lists := []struct {
		name   string
		none   bool
		issued time.Duration // before the check
		maxAge time.Duration
	}{
		{name: "no list", none: true},
		{name: "fresh list", issued: time.Hour},
		{name: "list past its next update", issued: 2 * day},
		{name: "list older than asked for", issued: 12 * time.Hour, maxAge: time.Hour},
	}
	states := []struct {
		name    string
		status  string // that the list knows, "" for none
		now     time.Time
		by      [4]certificate.Verdict // as the lists above
		showing [4]string
	}{
		{"valid", "", until.Add(-day), [4]certificate.Verdict{4, 0, 4, 4}, [4]string{"unknown", "valid", "valid", "valid"}},
		{"expired", "", until.Add(day), [4]certificate.Verdict{5, 5, 5, 5}, [4]string{"expired", "expired", "expired", "expired"}},
		{"superseded", "superseded", until.Add(-day), [4]certificate.Verdict{4, 3, 3, 3}, [4]string{"unknown", "superseded", "superseded", "superseded"}},
		{"withdrawn", "withdrawn", until.Add(-day), [4]certificate.Verdict{4, 3, 3, 3}, [4]string{"unknown", "withdrawn", "withdrawn", "withdrawn"}},
		{"withdrawn and expired", "withdrawn", until.Add(day), [4]certificate.Verdict{5, 3, 3, 3}, [4]string{"expired", "withdrawn", "withdrawn", "withdrawn"}},
	}
	for _, s := range states {
		for n, l := range lists {
			known := &ledger.StatusList{Origin: origin, Number: 9, Issued: s.now.Add(-l.issued), NextUpdate: s.now.Add(day - l.issued), LogSize: 40}
			if s.status != "" {
				known.Lines = []ledger.StatusLine{{Number: doc.Number, Status: s.status, At: known.Issued.Add(-time.Hour), Reason: "quality"}}
			}
			if l.none {
				known = nil
			}
			trust := h.trust(known)
			trust.Now, trust.MaxAge = s.now, l.maxAge
			r := trust.Verify(pdf)
			if r.Verdict != s.by[n] || r.Status != s.showing[n] {
				t.Errorf("%s, %s: %d %s, want %d %s\n%s", s.name, l.name, r.Verdict, r.Status, s.by[n], s.showing[n], r.Text())
			}
		}
	}
	fmt.Printf("figure: %d states by %d ages of the list, each with its exit status\n", len(states), len(lists))
	t.Run("the list of the log's next epoch counts", func(t *testing.T) {
		next := list()
		next.Origin = origin[:len(origin)-1] + "2"
		if r := h.trust(next).Verify(pdf); r.Verdict != certificate.Genuine {
			t.Error(r.Text())
		}
	})
	t.Run("a list that ends before the certificate says nothing of it", func(t *testing.T) {
		before := list()
		before.LogSize = 21 // the certificate is leaf 21, the first being 0
		if r := h.trust(before).Verify(pdf); r.Verdict != certificate.Unsettled || r.Status != "unknown" {
			t.Error(r.Text())
		}
		before.LogSize++
		if r := h.trust(before).Verify(pdf); r.Verdict != certificate.Genuine {
			t.Error(r.Text())
		}
	})
	t.Run("the list of another log does not", func(t *testing.T) {
		other := list(ledger.StatusLine{Number: doc.Number, Status: "withdrawn", At: dayAfter, Reason: "quality"})
		other.Origin = elsewhere
		if r := h.trust(other).Verify(pdf); r.Verdict != certificate.Unsettled {
			t.Error(r.Text())
		}
	})
}
