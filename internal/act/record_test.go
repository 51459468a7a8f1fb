package act_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestRecord(t *testing.T) {
	formID := newID()
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	first := w.record(r.ID, done("jet-off", 1), remark("dry", 2))

	t.Run("gives each entry the next seq and moves the head", func(t *testing.T) {
		if !slices.Equal(first.Seqs, []int{1, 2}) || first.Again || first.Run.Seq != 2 || slices.Equal(first.Run.Head, r.Head) {
			t.Errorf("got %+v", first)
		}
	})
	t.Run("keeps who, from where and how, and a salt", func(t *testing.T) {
		book, err := w.db.Logbook(ctx, w.engineer, r.ID)
		must(t, err)
		e := book.Entries[0]
		if e.By != string(w.engineer.ID) || e.Device != "tablet 1" || e.Via != "typed" || len(e.Salt) != 32 || e.ReceivedAt == nil {
			t.Errorf("got %+v", e)
		}
	})
	t.Run("received_at is the database's clock, whatever the server's says", func(t *testing.T) {
		book, err := w.db.Logbook(ctx, w.engineer, r.ID)
		must(t, err)
		if since := time.Since(*book.Entries[0].ReceivedAt); since < 0 || since > time.Minute {
			t.Errorf("received %s ago", since)
		}
	})
	t.Run("a new entry beside a stored one is stored alone", func(t *testing.T) {
		old, fresh := remark("again", 3), remark("new", 4)
		w.record(r.ID, old)
		got := w.record(r.ID, fresh, old)
		if !slices.Equal(got.Seqs, []int{4, 3}) || got.Again {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("the same id with other content is refused and nothing is stored", func(t *testing.T) {
		e := remark("first", 5)
		w.record(r.ID, e)
		e.Text = "second"
		before := w.run(r.ID).Seq
		_, err := w.Record(ctx, author(w.engineer), r.ID, []commissioning.Entry{remark("beside it", 5), e}, evening)
		refused(t, err, problem.Invalid)
		if after := w.run(r.ID).Seq; after != before {
			t.Errorf("seq went from %d to %d", before, after)
		}
	})
	t.Run("a form sent again is the same form although the server dates it anew", func(t *testing.T) {
		form := author(w.engineer)
		form.Form = true
		send := func(minute int, text string) (act.Recorded, error) {
			e := commissioning.Entry{ID: formID, Kind: commissioning.KindNote, Text: text, ObservedAt: at(minute)}
			e.CapturedAt = &e.ObservedAt
			return w.Record(t.Context(), form, r.ID, []commissioning.Entry{e}, evening)
		}
		first, err := send(30, "x")
		must(t, err)
		second, err := send(31, "x")
		must(t, err)
		if !second.Again || !slices.Equal(first.Seqs, second.Seqs) {
			t.Errorf("first %+v, then %+v", first, second)
		}
		if _, err := send(32, "y"); problem.KindOf(err) != problem.Invalid {
			t.Errorf("another text under the same id: %v", err)
		}
	})
	t.Run("an entry may speak of another one of its post", func(t *testing.T) {
		seq := w.run(r.ID).Seq
		got := w.record(r.ID,
			entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"}, 20),
			entry(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: seq + 1, How: "air let out"}, 21))
		if !slices.Equal(got.Seqs, []int{seq + 1, seq + 2}) {
			t.Errorf("got %+v", got)
		}
	})
}

// Bad input gets one sentence, and nothing is stored.
func TestRecordRefuses(t *testing.T) {
	w := newWorld(t)
	w.unitOrFail("U-2")
	r := w.open("U-1")
	fault := w.record(r.ID, entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"}, 1)).Seqs[0]
	struck := w.record(r.ID, remark("x", 1)).Seqs[0]
	correction := func(strikes int) commissioning.Entry {
		return entry(commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: strikes, Reason: "typo"}, 3)
	}
	w.record(r.ID, correction(struck))
	engineer, logger := author(w.engineer), act.Author{Logger: &w.logger}
	anID := newID()
	for name, c := range map[string]struct {
		by      act.Author
		kind    problem.Kind
		entries []commissioning.Entry
	}{
		"an empty post":                    {engineer, problem.Invalid, nil},
		"1,001 entries":                    {engineer, problem.Invalid, slices.Repeat([]commissioning.Entry{remark("x", 1)}, 1001)},
		"no id":                            {engineer, problem.Invalid, []commissioning.Entry{{Kind: commissioning.KindNote, Text: "x", ObservedAt: at(1)}}},
		"one id twice":                     {engineer, problem.Invalid, []commissioning.Entry{{ID: anID, Kind: "note", Text: "x", ObservedAt: at(1)}, {ID: anID, Kind: "note", Text: "x", ObservedAt: at(1)}}},
		"an id in capitals":                {engineer, problem.Invalid, []commissioning.Entry{{ID: strings.ToUpper(newID()), Kind: "note", Text: "x", ObservedAt: at(1)}}},
		"letters in a number":              {engineer, problem.Invalid, []commissioning.Entry{viscosity("4,6O", 1)}},
		"a unit of another kind":           {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "reading", Quantity: "viscosity", Value: "4.6", Unit: "degC"}, 1)}},
		"an unknown step":                  {engineer, problem.Invalid, []commissioning.Entry{done("jet-on", 1)}},
		"an unknown quantity":              {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "reading", Quantity: "colour", Value: "1", Unit: "kPa"}, 1)}},
		"an unknown fault":                 {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "fault", Fault: "noise"}, 1)}},
		"no time":                          {engineer, problem.Invalid, []commissioning.Entry{{ID: newID(), Kind: "note", Text: "x"}}},
		"a time ahead of the clock":        {engineer, problem.Invalid, []commissioning.Entry{remark("x", 122)}},
		"a date in the past":               {engineer, problem.Invalid, []commissioning.Entry{remark("x", -1500)}},
		"a replacement in the past":        {engineer, problem.Invalid, []commissioning.Entry{replaced(correction(fault), remark("x", -1500))}},
		"a clearing of what is no fault":   {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "fault_cleared", Ref: struck, How: "x"}, 4)}},
		"a clearing of what is not there":  {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "fault_cleared", Ref: 99, How: "x"}, 4)}},
		"striking what is struck":          {engineer, problem.Invalid, []commissioning.Entry{correction(struck)}},
		"striking what is not there":       {engineer, problem.Invalid, []commissioning.Entry{correction(99)}},
		"a photo that has not arrived":     {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "photo", SHA256: strings.Repeat("0", 64), MediaType: "image/jpeg"}, 1)}},
		"a ruling":                         {engineer, problem.Invalid, []commissioning.Entry{entry(commissioning.Entry{Kind: "disposition", Ref: 1, Decision: "accept", Reason: "x"}, 1)}},
		"a good entry beside a bad one":    {engineer, problem.Invalid, []commissioning.Entry{remark("good", 1), done("jet-on", 1)}},
		"a character that can't be kept":   {engineer, problem.Invalid, []commissioning.Entry{remark("a\x00b", 1)}},
		"an engineer without the pen":      {author(w.second), problem.Forbidden, []commissioning.Entry{done("jet-off", 1)}},
		"a supervisor":                     {author(w.supervisor), problem.Forbidden, []commissioning.Entry{remark("x", 1)}},
		"quality":                          {author(w.quality), problem.Forbidden, []commissioning.Entry{remark("x", 1)}},
		"an administrator":                 {author(w.admin), problem.NotFound, []commissioning.Entry{remark("x", 1)}},
		"somebody of another site":         {author(w.stranger), problem.NotFound, []commissioning.Entry{remark("x", 1)}},
		"a step answer by a logger":        {logger, problem.Forbidden, []commissioning.Entry{done("jet-off", 1)}},
		"a note beside a logger's reading": {logger, problem.Forbidden, []commissioning.Entry{viscosity("4.5", 1), remark("x", 1)}},
		"a logger that nobody knows":       {act.Author{Logger: &commissioning.Logger{ID: "L-0099", Site: w.site.ID}}, problem.Forbidden, []commissioning.Entry{viscosity("4.5", 1)}},
		"a logger of another site":         {act.Author{Logger: &commissioning.Logger{ID: w.logger.ID, Site: w.other.ID}}, problem.NotFound, []commissioning.Entry{viscosity("4.5", 1)}},
	} {
		t.Run(name, func(t *testing.T) {
			before := w.run(r.ID)
			_, err := w.Record(t.Context(), c.by, r.ID, c.entries, evening)
			refused(t, err, c.kind)
			if after := w.run(r.ID); after.Seq != before.Seq || !slices.Equal(after.Head, before.Head) {
				t.Errorf("seq went from %d to %d", before.Seq, after.Seq)
			}
		})
	}
	t.Run("a logger of another unit", func(t *testing.T) {
		_, err := w.Record(t.Context(), logger, w.open("U-2").ID, []commissioning.Entry{viscosity("4.5", 1)}, evening)
		refused(t, err, problem.Forbidden)
	})
	t.Run("a run that is not there", func(t *testing.T) {
		for _, id := range []string{newID(), "x", "", "' or true"} {
			_, err := w.Record(t.Context(), engineer, commissioning.RunID(id), []commissioning.Entry{remark("x", 1)}, evening)
			refused(t, err, problem.NotFound)
		}
	})
	t.Run("but another engineer may add a fault or a note", func(t *testing.T) {
		_, err := w.Record(t.Context(), author(w.second), r.ID, []commissioning.Entry{
			remark("seen in passing", 1), entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "level"}, 2),
		}, evening)
		must(t, err)
	})
}

func replaced(correction, by commissioning.Entry) commissioning.Entry {
	by.ID = ""
	correction.Replacement = &by
	return correction
}

// Everything is sent three times, shuffled, over four connections at once, and
// in the middle the database drops every connection.
func TestRecordAgain(t *testing.T) {
	w := newWorld(t)
	r := w.open("U-1")
	posts := make([][]commissioning.Entry, 40)
	for i := range posts {
		for range 1 + rand.IntN(5) {
			posts[i] = append(posts[i], viscosity("4.5", 1+i))
		}
	}
	sent := slices.Concat(posts, posts, posts)
	rand.Shuffle(len(sent), func(i, j int) { sent[i], sent[j] = sent[j], sent[i] })
	var mu sync.Mutex
	answers := map[string][]int{}
	queue := make(chan []commissioning.Entry)
	var clients sync.WaitGroup
	var again atomic.Int64
	for range 4 {
		clients.Go(func() {
			for post := range queue {
				got, err := w.Record(t.Context(), act.Author{Logger: &w.logger}, r.ID, post, evening)
				for try := 0; err != nil && try < 20; try++ {
					again.Add(1)
					time.Sleep(20 * time.Millisecond)
					got, err = w.Record(t.Context(), act.Author{Logger: &w.logger}, r.ID, post, evening)
				}
				if err != nil {
					t.Error(err)
					continue
				}
				mu.Lock()
				for i, e := range post {
					answers[e.ID] = append(answers[e.ID], got.Seqs[i])
				}
				mu.Unlock()
			}
		})
	}
	cut := 0
	for i, post := range sent {
		if i == len(sent)/3 || i == len(sent)/2 || i == 2*len(sent)/3 {
			cut += w.count("select count(pg_terminate_backend(pid)) from pg_stat_activity where usename = 'settlemark_app' and datname = current_database()")
		}
		queue <- post
	}
	close(queue)
	clients.Wait()
	for id, seqs := range answers {
		if len(seqs) != 3 || seqs[0] != seqs[1] || seqs[1] != seqs[2] {
			t.Errorf("entry %s was answered %v", id, seqs)
		}
	}
	stored := w.run(r.ID).Seq
	fmt.Printf("figure: %d sent, %d received over 4 connections, %d stored; %d connections cut in the middle, %d posts sent again for it\n",
		len(answers), 3*len(answers), stored, cut, again.Load())
	if stored != len(answers) {
		t.Errorf("%d entries, %d stored", len(answers), stored)
	}
}

// A logger that was off the network for long sends a thousand readings at once.
func TestRecordThousand(t *testing.T) {
	w := newWorld(t)
	r := w.open("U-1")
	var took []time.Duration
	for post := range 3 {
		readings := make([]commissioning.Entry, 1000)
		for i := range readings {
			readings[i] = entry(commissioning.Entry{
				Kind: commissioning.KindReading, Quantity: "viscosity", Value: "4.5", Unit: "mPa.s",
			}, 0)
			readings[i].ObservedAt = at(0).Add(time.Duration(post*1000+i) * time.Second)
		}
		begun := time.Now()
		_, err := w.Record(t.Context(), act.Author{Logger: &w.logger}, r.ID, readings, evening)
		must(t, err)
		took = append(took, time.Since(begun))
	}
	fmt.Printf("a post of 1,000 readings took %v\n", slices.Min(took).Round(time.Millisecond))
	if slices.Min(took) > 2*time.Second {
		t.Errorf("posts took %v", took)
	}
}
