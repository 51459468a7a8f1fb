package web_test

import (
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/web"
)

// Nothing that is sent is answered from a standby: what it leads to was just written.
func TestOnlyReadsLag(t *testing.T) {
	lagging := 0
	for _, r := range web.Routes(newSite(t).screens) {
		if !r.Lagging {
			continue
		}
		if lagging++; r.Method != http.MethodGet {
			t.Errorf("%s %s", r.Method, r.Pattern)
		}
	}
	if lagging == 0 {
		t.Error("no route lags, so this shows nothing")
	}
}

// While as many posts as there may be stand still, others are told when to come again,
// tablets too, and people have connections of their own.
func TestBatches(t *testing.T) {
	const most = 16
	g := newGateway(t, commissioning.ReportScope)
	b := g.as("engineer")
	held := dbtest.Connect(t, g.db.AdminURL)
	defer held.Close(t.Context())
	tx, err := held.Begin(t.Context())
	g.must(err)
	_, err = tx.Exec(t.Context(), "select from runs for update")
	g.must(err)

	var posts sync.WaitGroup
	var answered, stored atomic.Int32
	for range most {
		posts.Go(func() {
			body := rows(1, time.Now())
			for {
				a := g.ask(http.MethodPost, "/api/v1/runs/"+string(g.run.ID)+"/entries", body)
				answered.Add(1)
				if a.status == http.StatusOK {
					stored.Add(1)
					return
				}
				if a.status != http.StatusServiceUnavailable || a.header.Get("Retry-After") == "" {
					t.Errorf("%d %s", a.status, a.body)
					return
				}
			}
		})
	}
	stranger := func() answer { return g.browser().do(http.MethodPost, "/api/v1/units/QU-01/readings", nil) }
	refused := stranger()
	for refused.status == http.StatusUnauthorized { // there is a slot yet
		refused = stranger()
	}
	if refused.status != http.StatusServiceUnavailable || refused.header.Get("Retry-After") != "1" {
		t.Errorf("one post more: %d, Retry-After %q", refused.status, refused.header.Get("Retry-After"))
	}
	if a := b.post("/runs/" + string(g.run.ID) + "/pencil"); a.status != http.StatusServiceUnavailable || !strings.Contains(a.body, "Too many posts at once.") {
		t.Errorf("a tablet that catches up: %d %s", a.status, a.text())
	}
	if a := b.get("/runs"); a.status != http.StatusOK {
		t.Errorf("a page: %d %s", a.status, a.text())
	}
	if n := answered.Load(); n > 0 {
		t.Errorf("the page waited until %d posts had been answered", n)
	}
	g.must(tx.Rollback(t.Context()))
	posts.Wait()
	if stored.Load() != most {
		t.Errorf("%d stored, want %d", stored.Load(), most)
	}
}
