package web_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/feed"
)

// TestFeed sends a table through a bad network into the real server.
func TestFeed(t *testing.T) {
	g := newGateway(t, commissioning.ReportScope)
	inner, err := url.Parse(g.server.URL)
	g.must(err)
	asked := 0
	forward := httputil.NewSingleHostReverseProxy(inner)
	forward.Transport = g.server.Client().Transport
	front := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked++
		switch asked {
		case 1:
			w.Header().Set("Retry-After", "1")
			w.WriteHeader(http.StatusServiceUnavailable)
		case 2: // it is stored, and the answer is lost
			forward.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		default:
			forward.ServeHTTP(w, r)
		}
	}))
	t.Cleanup(front.Close)
	spool := t.TempDir()
	f := &feed.Feed{
		To: front.URL + "/api/v1/units/QU-01/readings", Token: g.token, Spool: spool, Gather: 100 * time.Millisecond,
		Client: front.Client(), Now: time.Now, Say: t.Logf,
	}
	table := "observed_at;quantity;value;unit\n"
	from := time.Now().Add(-time.Minute).UTC()
	for i := range 4 {
		table += fmt.Sprintf("%s;viscosity;4.5%d;mPa.s\n", from.Add(time.Duration(i)*time.Second).Format(time.RFC3339), i)
	}
	table += ";viscosity;thick;mPa.s\n" // dated when it is read
	sum, err := f.Run(t.Context(), strings.NewReader(table))
	g.must(err)
	if sum != (feed.Sum{Again: 4, Refused: 1}) || asked != 3 {
		t.Errorf("%+v after %d posts", sum, asked)
	}
	if got := g.stored(); got != "4" {
		t.Errorf("%s readings are stored", got)
	}
	left, err := filepath.Glob(spool + "/refused/*.ndjson")
	g.must(err)
	if len(left) != 1 {
		t.Fatalf("refused: %v", left)
	}
	text, err := os.ReadFile(left[0])
	g.must(err)
	if !strings.Contains(string(text), "thick") || !strings.Contains(string(text), "problem") {
		t.Errorf("refused: %s", text)
	}

	t.Run("keeps what it can't hand over", func(t *testing.T) {
		f.Token = "sm_nobody"
		row := fmt.Sprintf(`{"quantity":"viscosity","value":"4.61","unit":"mPa.s","observed_at":%q}`, from.Add(10*time.Second).Format(time.RFC3339))
		if _, err := f.Run(t.Context(), strings.NewReader(row)); err == nil || !strings.Contains(err.Error(), "401") {
			t.Fatalf("with no token of ours: %v", err)
		}
		f.Token = g.token
		sum, err := f.Run(t.Context(), strings.NewReader(""))
		if err != nil || sum != (feed.Sum{Stored: 1}) {
			t.Errorf("the next time: %+v, %v", sum, err)
		}
	})

	t.Run("takes what a simulated unit reports, from either format", func(t *testing.T) {
		stored, err := g.db.Procedure(t.Context(), g.text("select procedure from settlemark.runs"), 1)
		g.must(err)
		u := demo.Unit{Seed: 3, Procedure: stored.Procedure, From: from.Add(-time.Hour), For: 30 * time.Minute, Faults: 1}
		var lines, table strings.Builder
		asLine, inTable := feed.WriteLines(&lines), feed.WriteTable(&table)
		rows := 0
		for _, readings := range u.Checks() {
			for _, e := range readings {
				row := feed.Row{Quantity: e.Quantity, Value: e.Value, Unit: e.Unit, State: e.State, ObservedAt: e.ObservedAt, Note: e.Note}
				g.must(errors.Join(asLine(row), inTable(row)))
				rows++
			}
		}
		sum, err := f.Run(t.Context(), strings.NewReader(table.String()))
		if err != nil || rows == 0 || sum != (feed.Sum{Stored: rows}) {
			t.Errorf("%d rows as a table: %+v, %v", rows, sum, err)
		}
		if sum, err = f.Run(t.Context(), strings.NewReader(lines.String())); err != nil || sum != (feed.Sum{Again: rows}) {
			t.Errorf("the same as objects: %+v, %v", sum, err)
		}
	})

	t.Run("reads no table whose columns it does not know", func(t *testing.T) {
		if _, err := f.Run(t.Context(), strings.NewReader("when,how much\n1,2\n")); err == nil || !strings.Contains(err.Error(), `"when"`) {
			t.Errorf("%v", err)
		}
	})
}
