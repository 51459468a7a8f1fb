package e2e_test

import (
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"settlemark/internal/trial"
)

// weakNetwork: what a tablet wrote arrives once each and in order, however
// the network treats it and however many pages are open.
func weakNetwork(t *testing.T, a *app, p *between, d *tablet) {
	p.does(nil, nil)
	run := d.startsRun("BH-09", "Demo: return to service")
	d.takesAlong(run)
	record := func(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, "/pencil") }
	written := 0
	value := func(n int) string { return fmt.Sprintf("4.%d", 10+n) }
	// writes readings with the server out of reach.
	writes := func(t *testing.T, n int) {
		t.Helper()
		p.does(cut, nil)
		for range n {
			d.padsIn(run, value(written))
			written++
		}
		d.waitsWith(n)
	}
	arrived := func(t *testing.T) {
		t.Helper()
		d.hasSent()
		entries := recordOf(t, a, "marit", run)
		if len(entries) != written {
			t.Fatalf("%d stored of %d", len(entries), written)
		}
		for i, e := range entries {
			if e.Value != value(i) {
				t.Errorf("number %d is %q", i+1, e.Value)
			}
		}
	}

	t.Run("of two pages one sends", func(t *testing.T) {
		writes(t, 3)
		second, end := chromedp.NewContext(d.ctx)
		defer end()
		_, err := chromedp.Run(second, chromedp.Evaluate[string]("location.href"))
		d.must(err)
		d.must(chromedp.Do(second, chromedp.Navigate(d.base+"/offline")))
		var sent, now, most atomic.Int32
		var gate sync.Mutex
		p.does(func(_ http.ResponseWriter, r *http.Request) bool {
			if record(r) {
				sent.Add(1)
				n := now.Add(1)
				gate.Lock()
				most.Store(max(most.Load(), n))
				gate.Unlock()
				time.Sleep(200 * time.Millisecond) // so that a second sender would meet the first
				now.Add(-1)
			}
			return false
		}, nil)
		online := `dispatchEvent(new Event("online"))`
		d.evaluates("the first is online", online)
		_, err = chromedp.Run(second, chromedp.Evaluate[bool](online))
		d.must(err)
		arrived(t)
		if sent.Load() != 3 || most.Load() != 1 {
			t.Errorf("sent %d times, %d at once", sent.Load(), most.Load())
		}
	})
	t.Run("three of ten requests are lost, on the way there or back", func(t *testing.T) {
		writes(t, trial.Times(4, 40))
		var mu sync.Mutex
		dice := rand.New(rand.NewPCG(7, 7))
		lost := atomic.Int32{}
		lose := func() {
			mu.Lock()
			defer mu.Unlock()
			if dice.IntN(100) < 16 { // twice makes three of ten
				lost.Add(1)
				panic(http.ErrAbortHandler)
			}
		}
		p.does(func(http.ResponseWriter, *http.Request) bool { lose(); return false }, func(*http.Response) { lose() })
		arrived(t)
		if lost.Load() == 0 {
			t.Error("nothing was lost")
		}
	})
	t.Run("three kilobytes a second are enough for a photo", func(t *testing.T) {
		p.does(cut, nil)
		d.open("/runs/" + run + "/more")
		d.touches("Photo that no line asks for")
		d.attaches("Photo", photoOf(t, "code.jpg", 160, 120))
		d.touches("Save the photo")
		d.waitsWith(1)
		var slow atomic.Int64
		p.does(func(_ http.ResponseWriter, r *http.Request) bool {
			r.Body = trickle{r.Body, &slow}
			return false
		}, nil)
		d.hasSent()
		entries := recordOf(t, a, "marit", run)
		if e := entries[len(entries)-1]; len(entries) != written+1 || e.Kind != "photo" || slow.Load() < 1000 {
			t.Errorf("%d bytes came slowly, the last of %d is %+v", slow.Load(), len(entries), e)
		}
		p.does(nil, nil)
	})
}

// trickle lets three kilobytes a second through.
type trickle struct {
	io.ReadCloser
	sum *atomic.Int64
}

func (s trickle) Read(into []byte) (int, error) {
	n, err := s.ReadCloser.Read(into[:min(len(into), 300)])
	s.sum.Add(int64(n))
	time.Sleep(time.Duration(n) * time.Second / 3000)
	return n, err
}
