package e2e_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// budget is what a page may cost on its way to the tablet, in bytes as they
// travel, headers in the total only: poor Wi-Fi beside a line carries little.
type budget struct {
	total, document, sheets, scripts, fonts float64
	requests                                int
}

var (
	firstVisit  = budget{total: 110e3, document: 14e3, sheets: 10e3, scripts: 30e3, fonts: 55e3, requests: 8}
	repeatVisit = budget{total: 15e3, document: 14e3, requests: 2} // the page and its stream
)

// TestBudgets weighs the pages that stand open all day, the stream among their
// requests.
func TestBudgets(t *testing.T) {
	a := demoApp(t)
	for _, page := range []struct {
		name, login, path string
		first             budget
	}{
		{"run", "marit", visitAs(t, a, "keiko").link("/units/BH-06", "a[href^='/runs/']"), firstVisit},
		{"board", "anwen", "/board", budget{total: firstVisit.total, requests: firstVisit.requests + 2}}, // a sheet and a script of its own,
	} {
		t.Run(page.name, func(t *testing.T) {
			who := visitAs(t, a, page.login)
			b := takeTablet(t, a, true)
			b.carries(who.cookie)
			b.goesPastTheWorker()
			page.first.holds(t, "first visit", b.weighs(page.path))
			repeatVisit.holds(t, "repeat visit", b.weighs(page.path))
		})
	}
}

func (limit budget) holds(t *testing.T, visit string, got budget) {
	t.Helper()
	t.Logf("%s: %d requests, %.1f kB: document %.1f, sheets %.1f, scripts %.1f, fonts %.1f",
		visit, got.requests, got.total/1e3, got.document/1e3, got.sheets/1e3, got.scripts/1e3, got.fonts/1e3)
	for _, line := range []struct {
		what       string
		got, limit float64
	}{
		{"all", got.total, limit.total},
		{"the document", got.document, limit.document},
		{"style sheets", got.sheets, limit.sheets},
		{"scripts", got.scripts, limit.scripts},
		{"fonts", got.fonts, limit.fonts},
	} {
		if line.limit > 0 && line.got > line.limit {
			t.Errorf("%s: %s weigh %.1f kB, at most %.1f", visit, line.what, line.got/1e3, line.limit/1e3)
		}
	}
	if got.requests > limit.requests || got.requests == 0 {
		t.Errorf("%s: %d requests, at most %d", visit, got.requests, limit.requests)
	}
}

// goesPastTheWorker, for what a worker fetches is not seen on the page.
func (b *tab) goesPastTheWorker() {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true})
		return err
	})))
}

// weighs opens a page and adds up what came over the wire; the cache is free.
func (b *tab) weighs(path string) budget {
	b.t.Helper()
	cached := map[network.RequestID]bool{}
	kinds := map[network.RequestID]network.ResourceType{}
	heads, sizes := map[network.RequestID]float64{}, map[network.RequestID]float64{}
	ctx, cancel := context.WithCancel(b.ctx)
	defer cancel()
	b.must(chromedp.Listen(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *network.EventResponseReceived:
			if !cached[e.RequestID] && !e.Response.FromDiskCache && strings.HasPrefix(e.Response.URL, b.base) {
				kinds[e.RequestID] = e.Type
				heads[e.RequestID], sizes[e.RequestID] = e.Response.EncodedDataLength, e.Response.EncodedDataLength
			}
		case *network.EventRequestServedFromCache:
			cached[e.RequestID] = true
		case *network.EventLoadingFinished:
			sizes[e.RequestID] = e.EncodedDataLength
		}
	}))
	b.open(path)
	b.ask("hears the stream", "live")
	b.ask("has its fonts", "ready")
	time.Sleep(500 * time.Millisecond) // an icon that is asked for last
	b.mu.Lock()
	defer b.mu.Unlock()
	var sum budget
	for id, kind := range kinds {
		sum.requests++
		sum.total += sizes[id]
		body := sizes[id] - heads[id]
		switch kind {
		case network.ResourceTypeDocument:
			sum.document += body
		case network.ResourceTypeStylesheet:
			sum.sheets += body
		case network.ResourceTypeScript:
			sum.scripts += body
		case network.ResourceTypeFont:
			sum.fonts += body
		}
	}
	return sum
}
