package act_test

import (
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/trial"
)

// The network to the database is slow, swallows what is sent, loses the answers,
// or breaks off, while eight people record. No call hangs for ever, what is sent
// again under its id is stored once, and nothing is left over of the bad calls.
func TestNetwork(t *testing.T) {
	const writers = 8
	lasts := time.Duration(trial.Times(1, 4)) * time.Second
	w := newWorld(t)
	r := w.open("U-1")
	proxy := dbtest.Through(t, w.db.AppURL)
	far := w.process(dbtest.Open(t, proxy.URL), &notes{})
	s := &storm{acked: map[string]bool{}, stop: make(chan bool)}
	var busy sync.WaitGroup
	for range writers {
		busy.Go(func() { s.write(w, far, r.ID) })
	}
	time.Sleep(lasts / 2)
	calm := runtime.NumGoroutine()
	for _, weather := range []dbtest.Weather{dbtest.Slow, dbtest.Hole, dbtest.Mute, dbtest.Reset} {
		proxy.CutCommit(dbtest.AnswerLost, 0) // in whatever weather, one commit is stored and its answer lost
		proxy.Change(weather)
		time.Sleep(lasts)
		proxy.Change(dbtest.Fair)
		s.waits(t, writers)
	}
	close(s.stop)
	ended := make(chan bool)
	go func() { busy.Wait(); close(ended) }()
	select {
	case <-ended:
	case <-time.After(time.Minute):
		t.Fatal("a call hangs")
	}
	left := runtime.NumGoroutine()
	stored := w.run(r.ID).Seq
	fmt.Printf("figure: slow, swallowed, unanswered and broken off for %s each under %d writers: %d acknowledged, %d stored, %d calls failed, %d found stored when asked for again; longest call %d ms; goroutines %d, then %d\n",
		lasts, writers, len(s.acked), stored, s.failed, s.found, s.longest.Milliseconds(), calm, left)
	if stored != len(s.acked) {
		t.Errorf("%d acknowledged, %d stored", len(s.acked), stored)
	}
	if s.failed == 0 || s.found == 0 {
		t.Error("the weather met nobody at work")
	}
	if left > calm {
		t.Errorf("%d goroutines are left, %d were there at work", left, calm)
	}
}

// storm is what the writers saw.
type storm struct {
	mu            sync.Mutex
	acked         map[string]bool
	failed, found int
	longest       time.Duration
	stop          chan bool
}

// write records one entry after the other, each until it is acknowledged.
func (s *storm) write(w *world, far *act.Acts, run commissioning.RunID) {
	for {
		select {
		case <-s.stop:
			return
		default:
		}
		e := remark("in the storm", 2)
		for {
			begun := time.Now()
			got, err := far.Record(w.t.Context(), author(w.engineer), run, []commissioning.Entry{e}, evening)
			s.saw(time.Since(begun), got, err, e.ID)
			if err == nil {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
}

// waits until so many more entries are acknowledged.
func (s *storm) waits(t *testing.T, more int) {
	t.Helper()
	heard := func() int {
		s.mu.Lock()
		defer s.mu.Unlock()
		return len(s.acked)
	}
	for wanted, since := heard()+more, time.Now(); heard() < wanted; time.Sleep(5 * time.Millisecond) {
		if time.Since(since) > time.Minute {
			t.Fatal("nothing is acknowledged in fair weather")
		}
	}
}

func (s *storm) saw(took time.Duration, got act.Recorded, err error, id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.longest = max(s.longest, took)
	switch {
	case err != nil:
		s.failed++
	case got.Again:
		s.found++
	}
	if err == nil {
		s.acked[id] = true
	}
}
