package act_test

import (
	"crypto/sha256"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// slate is what one tablet writes for one person into one run.
type slate struct {
	w      *world
	person commissioning.Person
	run    commissioning.RunID
	device string
	n      int
	last   []byte
}

func (w *world) slate(p commissioning.Person, run commissioning.RunID, device string) *slate {
	return &slate{w: w, person: p, run: run, device: device}
}

// writes makes the next record.
func (s *slate) writes(e commissioning.Entry) act.Pencil {
	s.w.t.Helper()
	s.n++
	e.CapturedAt = &e.ObservedAt
	body, err := json.Marshal([]any{s.device, s.n, e})
	must(s.w.t, err)
	p := act.Pencil{Device: s.device, N: s.n, Previous: s.last, Body: body, App: "test", Entry: e, Seen: 1 << 30}
	sum := sha256.Sum256(body)
	s.last = sum[:]
	return p
}

func (s *slate) sends(p act.Pencil) act.Heard {
	s.w.t.Helper()
	heard, err := s.w.Hear(s.w.t.Context(), s.person, s.run, p, evening)
	must(s.w.t, err)
	return heard
}

func TestTablet(t *testing.T) {
	w := newWorld(t)
	r := w.open("U-1")
	s := w.slate(w.engineer, r.ID, "tablet a")
	first, second, third := s.writes(done("jet-off", 1)), s.writes(remark("dry", 2)), s.writes(viscosity("4.50", 3))
	t.Run("a record becomes the next entry", func(t *testing.T) {
		if got := s.sends(first); !slices.Equal(got.Seqs, []int{1}) || got.Again || got.Aside != "" {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("sent again it is answered as before", func(t *testing.T) {
		if got := s.sends(first); !slices.Equal(got.Seqs, []int{1}) || !got.Again {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("one that comes too early is told which number is missing, and not stored", func(t *testing.T) {
		if got := s.sends(third); got.Wanted != 2 || w.run(r.ID).Seq != 1 {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("then all go in in their order", func(t *testing.T) {
		s.sends(second)
		if got := s.sends(third); !slices.Equal(got.Seqs, []int{3}) {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("an entry whose acknowledgement as a form was lost is known", func(t *testing.T) {
		e := remark("sent as a form", 4)
		e.CapturedAt = &e.ObservedAt
		by := author(w.engineer)
		by.Form = true
		stored, err := w.Record(t.Context(), by, r.ID, []commissioning.Entry{e}, evening)
		must(t, err)
		later := e
		later.ObservedAt = at(5)
		later.Clock = &commissioning.Clock{Proven: new(true)}
		if got := s.sends(s.writes(later)); !got.Again || !slices.Equal(got.Seqs, stored.Seqs) {
			t.Errorf("got %+v, stored as %v", got, stored.Seqs)
		}
	})
	t.Run("one that is refused is not counted, and may be sent again", func(t *testing.T) {
		odd := s.writes(entry(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: 99, How: "bled"}, 6))
		for range 2 {
			_, err := w.Hear(t.Context(), w.engineer, r.ID, odd, evening)
			refused(t, err, problem.Invalid)
		}
		before := w.run(r.ID).Seq
		odd.Leave = true
		if got := s.sends(odd); !strings.Contains(got.Aside, "left it with quality") || w.run(r.ID).Seq != before {
			t.Errorf("left with quality: %+v", got)
		}
		odd.Leave = false
		if got := s.sends(odd); got.Aside == "" {
			t.Errorf("sent again: %+v", got)
		}
	})
	t.Run("the next one follows what was set aside", func(t *testing.T) {
		if got := s.sends(s.writes(remark("on we go", 7))); got.Aside != "" || len(got.Seqs) != 1 {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("one that does not follow the one before is set aside", func(t *testing.T) {
		p := s.writes(remark("out of nothing", 8))
		p.Previous = make([]byte, 32)
		if got := s.sends(p); !strings.Contains(got.Aside, "does not follow") {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("what comes after lost records is set aside when the tablet has them no more", func(t *testing.T) {
		s.writes(remark("lost", 9))
		p := s.writes(remark("after it", 9))
		if got := s.sends(p); got.Wanted != p.N-1 {
			t.Fatalf("got %+v", got)
		}
		p.AfterGap = true
		if got := s.sends(p); !strings.Contains(got.Aside, "never came") {
			t.Errorf("got %+v", got)
		}
		if got := s.sends(s.writes(remark("and on", 9))); got.Aside != "" {
			t.Errorf("the next one: %+v", got)
		}
	})
}

func TestTabletConflicts(t *testing.T) {
	t.Run("two tablets of one run: both readings are kept", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		a, b := w.slate(w.engineer, r.ID, "tablet a"), w.slate(w.engineer, r.ID, "tablet b")
		first, second := a.sends(a.writes(viscosity("4.50", 3))), b.sends(b.writes(viscosity("5.60", 3)))
		if !slices.Equal(first.Seqs, []int{1}) || !slices.Equal(second.Seqs, []int{2}) {
			t.Errorf("%+v, %+v", first, second)
		}
	})
	t.Run("a line that somebody else finished meanwhile is set aside and says by whom", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		a, b := w.slate(w.engineer, r.ID, "tablet a"), w.slate(w.engineer, r.ID, "tablet b")
		late := b.writes(done("jet-off", 2))
		late.Seen = 0
		a.sends(a.writes(done("jet-off", 1)))
		// 08:01 UTC is 08:01 in Dublin in March.
		if got := b.sends(late); got.Aside != "Already done by "+w.engineer.Name+" at "+at(1).Format("15:04")+"." {
			t.Errorf("got %+v", got)
		}
		own := a.writes(done("jet-off", 4))
		own.Seen = 0
		if got := a.sends(own); got.Aside != "" {
			t.Errorf("one's own second answer is set aside: %q", got.Aside)
		}
	})
	t.Run("written before the pen went over it is stored as of unproven time", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		s := w.slate(w.engineer, r.ID, "tablet a")
		reading, fault := s.writes(viscosity("4.50", 3)), s.writes(entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"}, 4))
		_, err := w.TakePen(t.Context(), author(w.second), r.ID, newID(), "shift", at(6))
		must(t, err)
		s.sends(reading)
		if again := s.sends(reading); !again.Again {
			t.Errorf("sent again: %+v", again)
		}
		s.sends(fault)
		book, err := w.db.Logbook(t.Context(), w.engineer, r.ID)
		must(t, err)
		e, f := book.Entries[1], book.Entries[2] // after the note of who took the pen
		if e.Clock == nil || *e.Clock.Proven || e.Note != "Sent after the pen had gone to "+w.second.Name+"." {
			t.Errorf("the reading: %+v, %q", e.Clock, e.Note)
		}
		if f.Clock != nil || f.Note != "" {
			t.Errorf("the fault, which anybody may report: %+v, %q", f.Clock, f.Note)
		}
	})
	t.Run("whoever never took part adds nothing that way", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		s := w.slate(w.second, r.ID, "tablet a")
		_, err := w.Hear(t.Context(), w.second, r.ID, s.writes(viscosity("4.50", 3)), evening)
		refused(t, err, problem.Forbidden)
	})
	t.Run("nor does a form of somebody who held the pen", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		_, err := w.TakePen(t.Context(), author(w.second), r.ID, newID(), "shift", at(6))
		must(t, err)
		e := viscosity("4.50", 3)
		e.Clock = &commissioning.Clock{Proven: new(false)}
		_, err = w.Record(t.Context(), author(w.engineer), r.ID, []commissioning.Entry{e}, evening)
		refused(t, err, problem.Forbidden)
	})
	t.Run("what comes after the run was abandoned is kept under it", func(t *testing.T) {
		w := newWorld(t)
		r := w.open("U-1")
		s := w.slate(w.engineer, r.ID, "tablet a")
		stored, late := s.writes(viscosity("4.50", 3)), s.writes(viscosity("4.51", 4))
		s.sends(stored)
		must(t, w.Abandon(t.Context(), w.engineer, r.ID, "the bench is needed", at(30)))
		if again := s.sends(stored); !again.Again || again.Aside != "" {
			t.Errorf("what was stored before: %+v", again)
		}
		if got := s.sends(late); !strings.Contains(got.Aside, "was abandoned before it came") {
			t.Errorf("got %+v", got)
		}
	})
}
