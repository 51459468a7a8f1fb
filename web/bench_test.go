package web_test

import (
	"crypto/sha256"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

// BenchmarkIngest is a post of readings to a run over TLS, stored once, chained and
// logged, against a bare copy of as many rows into a table of the same columns,
// checks and indexes.
func BenchmarkIngest(b *testing.B) {
	for _, size := range []struct {
		readings int
		share    float64 // of the speed of the copy, at least
	}{{1000, 0.45}, {100, 0.35}} {
		g := newGateway(b, commissioning.ReportScope)
		address := g.server.URL + "/api/v1/runs/" + string(g.run.ID) + "/entries"
		b.Run(fmt.Sprintf("%d readings/over HTTP", size.readings), func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				body := rows(size.readings, time.Now().Add(-time.Hour))
				b.StartTimer()
				g.sends(address, body)
			}
			b.ReportMetric(1/size.share, "x-at-most")
		})
		b.Run(fmt.Sprintf("%d readings/bare copy", size.readings), func(b *testing.B) {
			dbtest.Exec(b, g.db.AdminURL, "drop table if exists bare", "create table bare (like settlemark.entries including all)")
			conn := dbtest.Connect(b, g.db.AdminURL)
			defer conn.Close(b.Context())
			for seq := 0; b.Loop(); seq += size.readings {
				b.StopTimer()
				copied := bare(g, size.readings, seq)
				b.StartTimer()
				_, err := conn.CopyFrom(b.Context(), pgx.Identifier{"bare"}, []string{
					"id", "run_id", "seq", "post_seq", "kind", "logger_id", "observed_at", "received_at", "sent_hash", "body",
				}, pgx.CopyFromRows(copied))
				g.must(err)
			}
		})
	}
}

// sends posts without holding the answer against the description, which would
// take longer than the post.
func (g *gateway) sends(address, body string) {
	r, err := http.NewRequestWithContext(g.t.Context(), http.MethodPost, address, strings.NewReader(body))
	g.must(err)
	r.Header.Set("Authorization", "Bearer "+g.token)
	r.Header.Set("Content-Type", "application/json")
	response, err := g.server.Client().Do(r)
	g.must(err)
	defer response.Body.Close()
	said, err := io.ReadAll(response.Body)
	g.must(err)
	if response.StatusCode != http.StatusOK {
		g.t.Fatalf("%d %s", response.StatusCode, said)
	}
}

// bare are readings as they lie in the table.
func bare(g *gateway, n, after int) [][]any {
	all, now := make([][]any, n), time.Now()
	for i := range all {
		body := []byte(strings.Trim(rows(1, now), "[]"))
		sum := sha256.Sum256(body)
		all[i] = []any{
			uuid.Must(uuid.NewV7()).String(), string(g.run.ID), after + i + 1, after + n,
			"reading", g.logger.ID, now, now, sum[:], body,
		}
	}
	return all
}

// BenchmarkPage is the page of a run, signed in and drawn from the database,
// against a handler that answers the same bytes.
func BenchmarkPage(b *testing.B) {
	g := newGateway(b, commissioning.ReportScope)
	who, page := g.as("engineer"), urls.Run(g.run.ID)
	same := []byte(who.get(page).wants(http.StatusOK).body)
	still := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(same) }))
	defer still.Close()
	b.Run("run/signed in", func(b *testing.B) {
		for b.Loop() {
			who.get(page).wants(http.StatusOK)
		}
		b.ReportMetric(1/0.10, "x-at-most")
	})
	b.Run("run/same bytes", func(b *testing.B) {
		reader := g.browser()
		reader.base = still.URL
		for b.Loop() {
			reader.get("/").wants(http.StatusOK)
		}
	})
}
