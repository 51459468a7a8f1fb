package e2e_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

const writers = 8

// stormy is an app to which faults happen, with a run that writers record into.
type stormy struct {
	t        *testing.T
	app      *app
	engineer *visitor
	run      string
	base     atomic.Value // where the program serves now
	env      []string     // names its database, where that is no private one
	lossy    bool         // the fault may lose what was acknowledged
	storms   int
}

func newStormy(t *testing.T, data string) *stormy {
	t.Helper()
	s := &stormy{t: t, app: mustLaunch(t, data)}
	s.engineer = visitAs(t, s.app, "marit")
	s.run = s.engineer.opens("BH-03", "return-to-service/1")
	s.base.Store(s.app.url)
	return s
}

// again starts the program anew after it was killed.
func (s *stormy) again() {
	s.t.Helper()
	s.app = mustLaunch(s.t, s.app.data)
	s.base.Store(s.app.url)
	s.engineer.base = s.app.url
}

// ledger is what the writers were told: every note that they sent, and whether
// the server acknowledged it.
type ledger struct {
	mu      sync.Mutex
	sent    map[string]bool // acknowledged or not, by id
	again   int             // sent once more because the answer was lost
	heard   int             // acknowledgements
	last    time.Time       // of the newest
	stalled time.Duration   // longest time between two
	other   map[string]int  // answers that were no acknowledgement
}

// under lets writers record while the fault happens, and compares afterwards
// what they were told with what is stored: nothing acknowledged is lost,
// nothing is there that nobody sent, nothing twice, the numbers have no gap, and
// the record is sound.
func (s *stormy) under(t *testing.T, what string, fault func(book *ledger)) {
	t.Helper()
	s.storms++
	book := &ledger{sent: map[string]bool{}, other: map[string]int{}, last: time.Now()}
	ctx, done := context.WithCancel(t.Context())
	var busy sync.WaitGroup
	for n := range writers {
		busy.Go(func() { book.write(ctx, *s.engineer, func() string { return s.serves(n) }, s.run, s.storms<<8|n) })
	}
	book.waits(t, 2*writers)
	fault(book)
	book.waits(t, 2*writers)
	done()
	busy.Wait()

	stored, lost, doubled := s.stored(t, book)
	out := "not looked at: the log had signed what was lost"
	if lost == 0 {
		out = says(t, 0, "sound", append(s.env, "SETTLEMARK_DATA="+s.app.data), "fsck")
	}
	fmt.Printf("figure: %s under %d writers: %d sent, %d of them again, %d acknowledged, %d stored, lost %d, doubled %d; longest stall %d ms\n",
		what, writers, len(book.sent), book.again, book.acknowledged(), stored, lost, doubled, book.stalled.Milliseconds())
	for what, times := range book.other {
		t.Logf("%d times answered %s", times, what)
		if strings.HasPrefix(what, "500 ") {
			t.Error("a fault that passes is answered 503")
		}
	}
	t.Log(out)
	if book.again == 0 {
		t.Error("the fault met nobody at work")
	}
}

// serves is where a writer finds the program: of several processes, each has one.
func (s *stormy) serves(writer int) string {
	all := strings.Fields(s.base.Load().(string))
	return all[writer%len(all)]
}

// stored compares the book with the logbook.
func (s *stormy) stored(t *testing.T, book *ledger) (stored, lost, doubled int) {
	t.Helper()
	found := map[string]int{}
	for i, e := range s.engineer.logbook(s.run).Entries {
		if e.Seq != i+1 {
			t.Fatalf("entry %d has the number %d", i+1, e.Seq)
		}
		if strings.HasPrefix(e.ID, fmt.Sprintf("01970000-%02x", s.storms)) {
			found[e.ID]++
		}
	}
	for id, heard := range book.sent {
		if heard && found[id] == 0 {
			lost++
		}
	}
	for id, times := range found {
		if times > 1 {
			doubled++
		}
		if _, ours := book.sent[id]; !ours {
			t.Errorf("nobody sent %s", id)
		}
	}
	if lost > 0 && !s.lossy || doubled > 0 {
		t.Errorf("lost %d, doubled %d", lost, doubled)
	}
	return len(found), lost, doubled
}

func (l *ledger) acknowledged() (n int) {
	for _, heard := range l.sent {
		if heard {
			n++
		}
	}
	return n
}

// write records notes until the context ends. A note whose answer was lost is
// sent again under the same id, as a tablet would.
func (l *ledger) write(ctx context.Context, v visitor, serves func() string, run string, writer int) {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("01970000-%04x-7000-8000-%012x", writer, n)
		l.note(id, false)
		body := url.Values{
			"id": {id}, "form": {"note"}, "kind": {"note"}, "text": {fmt.Sprintf("Writer %d, note %d", writer, n)},
		}.Encode()
		for attempt := 0; ; attempt++ {
			v.base = serves()
			got, err := v.try(ctx, http.MethodPost, "/runs/"+run+"/entries", "application/x-www-form-urlencoded", strings.NewReader(body))
			if err == nil && got.status == http.StatusSeeOther && !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
				l.note(id, true)
				break
			}
			if ctx.Err() != nil {
				return
			}
			l.refused(attempt, got, err)
			time.Sleep(10 * time.Millisecond)
		}
	}
}

func (l *ledger) refused(attempt int, got answer, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if attempt == 0 {
		l.again++
	}
	if err == nil {
		l.other[fmt.Sprint(got.status, " ", got.header.Get("Location"), got.sentences())]++
	}
}

func (l *ledger) note(id string, acknowledged bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sent[id] = acknowledged
	if acknowledged {
		l.heard++
		l.stalled = max(l.stalled, time.Since(l.last))
		l.last = time.Now()
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
		if time.Since(since) > time.Minute {
			t.Fatalf("nothing was acknowledged for a minute: %v", l.other)
		}
	}
}
