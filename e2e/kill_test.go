package e2e_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

const (
	kills   = 20
	writers = 8
)

// ledger is what the writers were told: every note that they sent, and whether
// the server acknowledged it.
type ledger struct {
	mu    sync.Mutex
	sent  map[string]bool // acknowledged or not, by id
	again int             // sent once more because the answer was lost
	heard int             // acknowledgements
	other map[string]int  // answers that were no acknowledgement
}

// TestKill: 20 times the program is killed while 8 writers record. Whatever
// was acknowledged is in the record, and nothing is there twice.
func TestKill(t *testing.T) {
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(data)
	a, err := launch(data, "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	engineer := visitAs(t, a, "marit")
	run := engineer.opens("BH-03", "return-to-service/1")

	var base atomic.Value // where the program serves now
	base.Store(a.url)
	book := &ledger{sent: map[string]bool{}, other: map[string]int{}}
	ctx, done := context.WithCancel(t.Context())
	var busy sync.WaitGroup
	for n := range writers {
		busy.Go(func() { book.write(ctx, *engineer, &base, run, n) })
	}
	var down time.Duration
	for range kills {
		book.waits(t, 10)
		time.Sleep(time.Duration(rand.IntN(450)) * time.Millisecond)
		a.kill()
		killed := time.Now()
		if a, err = launch(data, "127.0.0.1:0"); err != nil {
			t.Fatal(err)
		}
		down = max(down, time.Since(killed))
		base.Store(a.url)
	}
	time.Sleep(500 * time.Millisecond) // let the last lost answers be asked for again
	done()
	busy.Wait()

	engineer.base = a.url
	stored := map[string]int{}
	for i, e := range engineer.logbook(run).Entries {
		if e.Seq != i+1 {
			t.Fatalf("entry %d has the number %d", i+1, e.Seq)
		}
		stored[e.ID]++
	}
	acknowledged, lost, doubled, strange := 0, 0, 0, 0
	for id, heard := range book.sent {
		if heard {
			acknowledged++
			if stored[id] == 0 {
				lost++
			}
		}
	}
	for id, times := range stored {
		if times > 1 {
			doubled++
		}
		if _, ours := book.sent[id]; !ours {
			strange++
		}
	}
	fmt.Printf("figure: killed %d times under %d writers: %d sent, %d of them again, %d acknowledged, %d stored, lost %d, doubled %d; slowest return %d ms\n",
		kills, writers, len(book.sent), book.again, acknowledged, len(stored), lost, doubled, down.Milliseconds())
	for what, times := range book.other {
		t.Logf("%d times answered %s", times, what)
	}
	if lost != 0 || doubled != 0 || strange != 0 {
		t.Errorf("lost %d, doubled %d, never sent %d", lost, doubled, strange)
	}
	if acknowledged < 10*kills || book.again == 0 {
		t.Errorf("only %d acknowledged and %d sent again: the kills met nobody at work", acknowledged, book.again)
	}
	if err := a.stop(); err != nil {
		t.Error(err)
	}
}

// write records notes until the context ends. A note whose answer was lost is
// sent again under the same id, as a tablet would.
func (l *ledger) write(ctx context.Context, v visitor, base *atomic.Value, run string, writer int) {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("01970000-%04x-7000-8000-%012x", writer, n)
		l.note(id, false)
		body := url.Values{
			"id": {id}, "form": {"note"}, "kind": {"note"}, "text": {fmt.Sprintf("Writer %d, note %d", writer, n)},
		}.Encode()
		for attempt := 0; ; attempt++ {
			v.base = base.Load().(string)
			got, err := v.try(ctx, http.MethodPost, "/runs/"+run+"/entries", "application/x-www-form-urlencoded", strings.NewReader(body))
			if err == nil && got.status == http.StatusSeeOther && !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
				l.note(id, true)
				break
			}
			if ctx.Err() != nil {
				return
			}
			l.mu.Lock()
			if attempt == 0 {
				l.again++
			}
			if err == nil {
				l.other[fmt.Sprint(got.status, " ", got.header.Get("Location"), got.sentences())]++
			}
			l.mu.Unlock()
			time.Sleep(10 * time.Millisecond)
		}
	}
}

func (l *ledger) note(id string, acknowledged bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sent[id] = acknowledged
	if acknowledged {
		l.heard++
	}
}

// waits until so many more entries are acknowledged: a program that has just
// started is busy with that for a while.
func (l *ledger) waits(t *testing.T, more int) {
	t.Helper()
	heard := func() int {
		l.mu.Lock()
		defer l.mu.Unlock()
		return l.heard
	}
	for wanted, since := heard()+more, time.Now(); heard() < wanted; time.Sleep(5 * time.Millisecond) {
		if time.Since(since) > 30*time.Second {
			t.Fatal("nothing was acknowledged for half a minute")
		}
	}
}
