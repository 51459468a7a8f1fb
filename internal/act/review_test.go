package act_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestSubmit(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	t.Run("is refused while something is open, and says what", func(t *testing.T) {
		err := w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, r.Head), at(1))
		refused(t, err, problem.Conflict)
		if !strings.Contains(err.Error(), "yet: ") {
			t.Errorf("got %v", err)
		}
	})
	done := w.work(r.ID, "L24O").Run
	t.Run("is refused when the run moved", func(t *testing.T) {
		refused(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, r.Head), at(45)), problem.Conflict)
	})
	t.Run("is refused to all but the holder of the pen", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.second, w.supervisor, w.quality} {
			refused(t, w.Submit(ctx, p, r.ID, w.signing(p, done.Head), at(45)), problem.Forbidden)
		}
	})
	t.Run("is refused without the form's nonce", func(t *testing.T) {
		refused(t, w.Submit(ctx, w.engineer, r.ID, act.Signing{Head: done.Head}, at(45)), problem.Invalid)
	})
	s := w.signing(w.engineer, done.Head)
	must(t, w.Submit(ctx, w.engineer, r.ID, s, at(45)))
	t.Run("twice with one form is once", func(t *testing.T) {
		must(t, w.Submit(ctx, w.engineer, r.ID, s, at(46)))
	})
	t.Run("a form can't be used for another run", func(t *testing.T) {
		w.unitOrFail("U-2")
		other := w.open("U-2")
		used := s
		used.Head = other.Head
		used.Proof.Passkey = w.devices[w.engineer.ID].Answers(auth.SigningChallenge(other.Head, s.Nonce))
		refused(t, w.Submit(ctx, w.engineer, other.ID, used, at(46)), problem.Invalid)
	})
	t.Run("keeps the assessment of that instant with the signature", func(t *testing.T) {
		book, err := w.db.Logbook(ctx, w.engineer, r.ID)
		must(t, err)
		if s := book.Submission(); s == nil || s.Name != "Mira Sand" || s.Meaning != commissioning.MeaningSubmit || !s.SignedAt.Equal(at(45)) {
			t.Errorf("got %+v", s)
		}
	})
}

// A run that only a supervisor can help may be submitted; it is released once
// the ruling is given.
func TestRule(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	w.work(r.ID, "L24O")
	faults := w.record(r.ID, // one pressure fault is expected, the second needs a decision
		entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"}, 2),
		entry(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: w.run(r.ID).Seq + 1, How: "restarted"}, 3),
		entry(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"}, 4),
		entry(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: w.run(r.ID).Seq + 3, How: "restarted"}, 5))
	must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, faults.Run.Head), at(45)))
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(46)))
	head := w.run(r.ID).Head

	t.Run("what is blocked can't be released before", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, head), "", at(47))
		refused(t, err, problem.Conflict)
	})
	accept := entry(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: faults.Seqs[2], Decision: commissioning.Accept, Reason: "air, let out"}, 47)
	t.Run("is refused to those who worked on it, and to other roles", func(t *testing.T) {
		for p, kind := range map[*commissioning.Person]problem.Kind{
			&w.engineer: problem.Forbidden, &w.second: problem.Forbidden, &w.quality: problem.Forbidden, &w.stranger: problem.NotFound,
		} {
			_, err := w.Rule(ctx, *p, r.ID, head, accept, at(47))
			refused(t, err, kind)
		}
	})
	t.Run("is refused when the run moved", func(t *testing.T) {
		_, err := w.Rule(ctx, w.supervisor, r.ID, r.Head, accept, at(47))
		refused(t, err, problem.Conflict)
	})
	ruled, err := w.Rule(ctx, w.supervisor, r.ID, head, accept, at(47))
	must(t, err)
	t.Run("sent again is answered as before, although the run moved", func(t *testing.T) {
		again, err := w.Rule(ctx, w.supervisor, r.ID, head, accept, at(47))
		must(t, err)
		if !again.Again || !slices.Equal(again.Seqs, ruled.Seqs) {
			t.Errorf("got %+v", again)
		}
	})
	t.Run("makes nobody a contributor: who ruled may countersign", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, ruled.Run.Head), "", at(48))
		must(t, err)
	})
}

// Roles do not help: persons count.
func TestFourEyes(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	both := []commissioning.Grant{{Role: commissioning.Engineer}, {Role: commissioning.Supervisor}}
	for _, p := range []*commissioning.Person{&w.engineer, &w.second, &w.supervisor} {
		must(t, w.setRoles(w.admin, p.ID, both, morning))
		fresh, err := w.db.Person(ctx, p.ID)
		must(t, err)
		*p = fresh
	}
	t.Run("who ruled on a run can't work on it", func(t *testing.T) {
		w.unitOrFail("U-2")
		r := w.record(w.open("U-2").ID, remark("x", 1)).Run
		_, err := w.Rule(ctx, w.supervisor, r.ID, r.Head, entry(commissioning.Entry{
			Kind: commissioning.KindDisposition, Ref: 1, Decision: commissioning.Accept, Reason: "x",
		}, 2), at(3))
		must(t, err)
		_, err = w.Record(ctx, author(w.supervisor), r.ID, []commissioning.Entry{remark("mine", 3)}, evening)
		refused(t, err, problem.Forbidden)
	})
	r := w.open("U-1")
	_, err := w.Record(ctx, author(w.second), r.ID, []commissioning.Entry{remark("seen in passing", 1)}, evening)
	must(t, err)
	head := w.work(r.ID, "L24O").Run.Head
	must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, head), at(45)))
	for name, p := range map[string]commissioning.Person{"who submitted": w.engineer, "who added a single note": w.second} {
		t.Run(name+" can neither read the sample, return nor countersign", func(t *testing.T) {
			refused(t, w.ReadSample(ctx, p, r.ID, "L24O", at(46)), problem.Forbidden)
			refused(t, w.Return(ctx, p, r.ID, head, "x", at(46)), problem.Forbidden)
			_, err := w.Countersign(ctx, p, r.ID, w.signing(p, head), "", at(46))
			refused(t, err, problem.Forbidden)
		})
	}
	t.Run("a role that was taken away counts at once", func(t *testing.T) {
		must(t, w.ReadSample(ctx, w.deputy, r.ID, "L24O", at(46)))
		must(t, w.setRoles(w.admin, w.deputy.ID, nil, morning))
		_, err := w.Countersign(ctx, w.deputy, r.ID, w.signing(w.deputy, head), "", at(46)) // the session still says supervisor
		refused(t, err, problem.Forbidden)
	})
}

func TestReturn(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.submitted("U-1")
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(46)))
	t.Run("needs a reason", func(t *testing.T) {
		refused(t, w.Return(ctx, w.supervisor, r.ID, r.Head, "  ", at(47)), problem.Invalid)
	})
	t.Run("is refused when the run moved", func(t *testing.T) {
		refused(t, w.Return(ctx, w.supervisor, r.ID, make([]byte, 32), "x", at(47)), problem.Conflict)
	})
	must(t, w.Return(ctx, w.supervisor, r.ID, r.Head, "sample blurred", at(47)))
	must(t, w.Return(ctx, w.supervisor, r.ID, r.Head, "sample blurred", at(47))) // a second click
	back := w.run(r.ID)
	if back.State != commissioning.Open || back.Round != 2 || back.ReturnReason != "sample blurred" || back.SubmittedAt != nil {
		t.Errorf("got %+v", back)
	}
	must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, back.Head), at(50)))
	t.Run("the reading of the round before counts no more", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, back.Head), "", at(51))
		refused(t, err, problem.Conflict)
	})
	t.Run("the same return again is a new one in a new round", func(t *testing.T) {
		must(t, w.Return(ctx, w.supervisor, r.ID, back.Head, "sample blurred", at(52)))
		if third := w.run(r.ID); third.Round != 3 || third.State != commissioning.Open {
			t.Errorf("got %+v", third)
		}
	})
	t.Run("every return and signature stays readable", func(t *testing.T) {
		book, err := w.db.Logbook(ctx, w.quality, r.ID)
		must(t, err)
		if len(book.Returns) != 2 || len(book.Signatures) != 2 || book.Submission() != nil {
			t.Errorf("returns %d, signatures %d", len(book.Returns), len(book.Signatures))
		}
	})
}

func TestSample(t *testing.T) {
	w := newWorld(t)
	w.openLog()
	ctx := t.Context()
	r := w.submitted("U-1")
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24Q", at(46)))
	t.Run("the first reading counts", func(t *testing.T) {
		must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24Q", at(46)))
		refused(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(46)), problem.Conflict)
	})
	t.Run("a mismatch needs a reason", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), " ", at(47))
		refused(t, err, problem.Invalid)
	})
	over := func(reason string) act.Signing {
		s := w.signing(w.supervisor, auth.Typed(r.Head, reason))
		s.Head = r.Head
		return s
	}
	t.Run("and the reason is signed with the record", func(t *testing.T) {
		for _, signed := range []string{"", "it was dark"} {
			_, err := w.Countersign(ctx, w.supervisor, r.ID, over(signed), "glare on the last sign", at(47))
			refused(t, err, problem.Invalid)
		}
	})
	number, err := w.Countersign(ctx, w.supervisor, r.ID, over("glare on the last sign"), "glare on the last sign\r\n", at(47))
	must(t, err)
	t.Run("the certificate proves it by itself", func(t *testing.T) {
		w.seal(at(48))
		w.issued(number) // which is verified first, as a stranger would
	})
	t.Run("where the readings agree there is no reason to sign", func(t *testing.T) {
		must(t, w.unit(ctx, "U-2"))
		r := w.submitted("U-2")
		must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(50)))
		s := w.signing(w.supervisor, auth.Typed(r.Head, "none"))
		s.Head = r.Head
		_, err := w.Countersign(ctx, w.supervisor, r.ID, s, "none", at(51))
		refused(t, err, problem.Conflict)
	})
	book, err := w.db.Logbook(ctx, w.quality, r.ID)
	must(t, err)
	if s := book.Countersigned(); s == nil || s.Agrees || s.Reading != "L24Q" || s.Mismatch != "glare on the last sign" {
		t.Errorf("got %+v", s)
	}
}

// Nothing that a supervisor is given before the own reading holds the engineer's.
func TestBlind(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	const secret = "SECRET24"
	w.work(r.ID, secret)
	typed := w.run(r.ID).Seq
	w.record(r.ID, entry(commissioning.Entry{
		Kind: commissioning.KindCorrection, Strikes: typed, Reason: "typed " + secret + " wrongly", Note: secret,
		Replacement: &commissioning.Entry{
			Kind: commissioning.KindStep, Step: "sample", Outcome: commissioning.Done,
			Text: secret + "B", Note: secret, ObservedAt: at(43),
		},
	}, 44))
	head := w.run(r.ID).Head
	must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, head), at(45)))

	says := func(v any, err error) bool {
		must(t, err)
		text, err := json.Marshal(v)
		must(t, err)
		return strings.Contains(string(text), secret)
	}
	t.Run("before the reading", func(t *testing.T) {
		for name, p := range map[string]commissioning.Person{"supervisor": w.supervisor, "deputy": w.deputy} {
			book, err := w.db.Logbook(ctx, p, r.ID)
			if says(book, err) {
				t.Errorf("the logbook tells it to the %s", name)
			}
		}
		board, err := w.db.Board(ctx, w.supervisor)
		if says(board, err) {
			t.Error("the board tells it")
		}
		stream, err := w.db.StreamBook(ctx, r.ID)
		if says(stream, err) {
			t.Error("the stream tells it")
		}
		acts, err := w.db.Acts(ctx, w.supervisor, noFilter)
		if says(acts, err) {
			t.Error("the acts tell it")
		}
	})
	t.Run("the engineer and quality see it", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.engineer, w.quality} {
			if book, err := w.db.Logbook(ctx, p, r.ID); !says(book, err) {
				t.Errorf("%s does not see it", p.Name)
			}
		}
	})
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "something", at(46)))
	t.Run("after the reading, and only for the one who read", func(t *testing.T) {
		if book, err := w.db.Logbook(ctx, w.supervisor, r.ID); !says(book, err) {
			t.Error("the supervisor who read does not see it")
		}
		if book, err := w.db.Logbook(ctx, w.deputy, r.ID); says(book, err) {
			t.Error("the deputy who did not read sees it")
		}
	})
}
