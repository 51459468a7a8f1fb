package templates_test

import (
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates"
)

// boarded is the board with this one unit on it.
func boarded(v templates.RunView) templates.BoardView {
	var b templates.BoardView
	b.Live(commissioning.Unit{Tag: "BH-14", Site: 1, Place: 4}, v)
	return b.Sorted()
}

func TestBoardLooks(t *testing.T) {
	settled := func() *story { return tell(t).until("Settle").read(66, "4.60", "4.55", "4.50", "4.48", "4.50") }
	faulty := settled()
	faulty.fault(79, "pressure")
	broken := settled().read(81, "5.40", "5.20")
	submitted := settled().view(80)
	at := submitted.Now
	submitted.Run.State, submitted.Run.SubmittedAt = commissioning.Submitted, &at
	ruling := tell(t).until("Settle")
	for range 3 {
		ruling.cleared(65, ruling.fault(64, "pressure"))
	}
	for _, c := range []struct {
		name string
		view templates.RunView
		look templates.Look
		word string
	}{
		{"a run that is worked on is quiet", tell(t).until("Flush").view(20), templates.LookWork, ""},
		{"a run that holds shows its minutes", settled().view(79), templates.LookHold, ""},
		{"an open fault stops", faulty.view(80), templates.LookStop, "stop"},
		{"a broken hold stops", broken.view(85), templates.LookStop, "stop"},
		{"a check that did not come is late", settled().view(78 + 9), templates.LookLate, "late"},
		{"after three such silences the unit is not heard from", settled().view(78 + 30), templates.LookQuiet, "quiet"},
		{"a submitted run waits for a signature", submitted, templates.LookSign, "sign"},
		{"a finding beyond the procedure waits for a ruling", ruling.view(66), templates.LookSign, "rule"},
		{"settling for more than two hours is slow", slow(t).view(66 + 125), templates.LookLate, "slow"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tile := boarded(c.view).Tiles[0]
			if tile.Look != c.look || tile.Word.String() != c.word {
				t.Errorf("look %s, word %q; wants %s, %q (%s)", tile.Look, tile.Word, c.look, c.word, tile.Spoken)
			}
			if tile.Name != "tile-1-4" || tile.Spoken.Empty() {
				t.Errorf("tile %+v", tile)
			}
		})
	}
}

// slow settles and settles, and is never in band.
func slow(t *testing.T) *story {
	s := tell(t).until("Settle")
	for minute := 66.0; minute < 190; minute += 3 {
		s.read(minute, "6.10")
	}
	return s
}

func TestBoardPutsTheOldestFirst(t *testing.T) {
	var b templates.BoardView
	for i, minutes := range []float64{85, 90, 80} {
		v := tell(t).until("Settle").view(95)
		v.Run.State = commissioning.Submitted
		at := v.Run.OpenedAt.Add(time.Duration(minutes) * time.Minute)
		v.Run.SubmittedAt = &at
		b.Live(commissioning.Unit{Tag: []string{"B", "C", "A"}[i], Place: i}, v)
	}
	sorted := b.Sorted()
	if got := sorted.Waiting[0].Tag + sorted.Waiting[1].Tag + sorted.Waiting[2].Tag; got != "ABC" {
		t.Errorf("the queue stands as %s", got)
	}
	if sorted.Tiles[0].Tag != "B" {
		t.Error("a tile left its place")
	}
}

func TestBoardShowsReleasesThatStand(t *testing.T) {
	var b templates.BoardView
	b.Idle(commissioning.Unit{Tag: "BH-01"}, true)
	b.Idle(commissioning.Unit{Tag: "BH-02"}, false)
	if b.Tiles[0].Look != templates.LookDone || b.Tiles[1].Look != templates.LookIdle || b.Count(templates.LookDone) != 1 {
		t.Errorf("tiles %+v", b.Tiles)
	}
}

// review is the story as a supervisor checks it.
func review(v templates.RunView) templates.ReviewView {
	v.Viewer = &commissioning.Person{ID: "P-0009", Name: "Tom Ferrier", Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: 1}}}
	return templates.ReviewView{RunView: v, Head: make([]byte, 32)}
}

func TestReviewOpensFirst(t *testing.T) {
	names := func(v templates.ReviewView) map[string]bool {
		out := map[string]bool{}
		for _, e := range v.OpenFirst() {
			out[e.Name.String()] = true
		}
		return out
	}
	t.Run("a plain run has nothing to open", func(t *testing.T) {
		v := review(tell(t).until("Settle").read(66, "4.60", "4.55", "4.50").view(73))
		if got := v.OpenFirst(); len(got) != 0 {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("a broken hold, a correction, a late reading and a return are opened first", func(t *testing.T) {
		s := tell(t).until("Settle").read(66, "4.60", "4.55", "4.50", "5.40", "4.60")
		s.add(80, commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: 1, Reason: "wrong line"})
		captured := s.at(110)
		s.add(82, commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: "4.61", Unit: "mPa.s", CapturedAt: &captured})
		v := review(s.view(111))
		v.Returns = []templates.Return{{At: s.at(100), By: "Tom Ferrier", Reason: "no photo"}}
		got := names(v)
		for _, name := range []string{"Hold", "Corrections", "Late", "Sent back"} {
			if !got[name] {
				t.Errorf("%s is not opened first: %v", name, got)
			}
		}
	})
	t.Run("entries typed together after a silence are asked about", func(t *testing.T) {
		s := tell(t).until("Settle")
		captured := s.at(100)
		for i := range 5 {
			at := captured.Add(time.Duration(i) * 10 * time.Second)
			s.add(92+float64(i), commissioning.Entry{Kind: commissioning.KindNote, Text: "on the sheet", CapturedAt: &at})
		}
		if got := names(review(s.view(101))); !got["Entered together"] {
			t.Errorf("got %v", got)
		}
	})
}

func TestReviewSignature(t *testing.T) {
	v := review(tell(t).until("Settle").view(66))
	v.Exam.Assessment.Verdict = rules.NotYet
	v.Run.State = commissioning.Submitted
	if v.Opens().String() != "opens when every gate passes" {
		t.Errorf("opens %q", v.Opens())
	}
	v.Exam.Assessment.Verdict = rules.Releasable
	if v.Opens().String() != "opens when you have read the sample" || !v.MustRead() {
		t.Errorf("before the own reading it opens %q", v.Opens())
	}
	v.Reading = "bp 118"
	if !v.Opens().Empty() {
		t.Errorf("after it, opens %q", v.Opens())
	}
	v.WhyNot = words.Say("You worked on this run. Someone else must sign.")
	if !v.Opens().Equal(v.WhyNot) {
		t.Errorf("for a contributor it opens %q", v.Opens())
	}
}

// What a hall reads has neither links nor who does what.
func TestHallNamesNobody(t *testing.T) {
	v := tell(t).until("Settle").view(80)
	at := v.Now
	v.Run.State, v.Run.SubmittedAt = commissioning.Submitted, &at
	name := v.Name(string(v.Run.Pen))
	board := boarded(v)
	if !strings.Contains(board.Waiting[0].Cause.String(), name) {
		t.Fatalf("the board itself says %q", board.Waiting[0].Cause)
	}
	var shown strings.Builder
	for _, p := range templates.HallPieces(board.ForHall()) {
		if err := p.Body.Render(t.Context(), &shown); err != nil {
			t.Fatal(err)
		}
	}
	if text := shown.String(); strings.Contains(text, name) || strings.Contains(text, "href") || strings.Count(text, "waits for a person") < 2 {
		t.Errorf("the hall reads %s", text)
	}
}
