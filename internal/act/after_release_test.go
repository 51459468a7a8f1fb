package act_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func repair(unit string, when time.Time) commissioning.UnitEvent {
	return commissioning.UnitEvent{ID: newID(), Unit: unit, Kind: commissioning.Repaired, Detail: "pump exchanged", HappenedAt: when}
}

func (w *world) certificate(n commissioning.CertificateNumber) commissioning.Certificate {
	w.t.Helper()
	c, err := w.db.Certificate(w.t.Context(), w.quality, n)
	must(w.t, err)
	return c
}

func TestUnitEvent(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	first := w.released("U-1")
	t.Run("only an engineer or a supervisor of the site may record one", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.quality, w.admin} {
			_, err := w.RecordUnitEvent(ctx, p, repair("U-1", at(55)), at(60))
			refused(t, err, problem.Forbidden)
		}
		_, err := w.RecordUnitEvent(ctx, w.stranger, repair("U-1", at(55)), at(60))
		refused(t, err, problem.NotFound) // another site's unit
	})
	t.Run("it needs a key, a kind, words, and an instant that is past", func(t *testing.T) {
		for _, spoil := range []func(*commissioning.UnitEvent){
			func(e *commissioning.UnitEvent) { e.ID = "" }, func(e *commissioning.UnitEvent) { e.Kind = "magic" },
			func(e *commissioning.UnitEvent) { e.Detail = "  " }, func(e *commissioning.UnitEvent) { e.HappenedAt = at(61) },
		} {
			e := repair("U-1", at(55))
			spoil(&e)
			_, err := w.RecordUnitEvent(ctx, w.engineer, e, at(60))
			refused(t, err, problem.Invalid)
		}
	})
	t.Run("what happened before the engineer signed ends nothing", func(t *testing.T) {
		voided, err := w.RecordUnitEvent(ctx, w.engineer, repair("U-1", at(44)), at(60))
		must(t, err)
		if voided != "" || w.certificate(first).Status(at(60)) != commissioning.Valid {
			t.Errorf("it ended %q", voided)
		}
	})
	e := repair("U-1", at(55))
	t.Run("what happened after that withdraws the certificate, with the event as its cause", func(t *testing.T) {
		voided, err := w.RecordUnitEvent(ctx, w.supervisor, e, at(60))
		must(t, err)
		c := w.certificate(first)
		s := c.Standing(at(61))
		if voided != first || s.Status != commissioning.Withdrawn || s.By != "Tomas Reed" || !s.At.Equal(at(60)) || c.WithdrawnCause != "repair" ||
			s.Reason.String() != "Void: repair on 2026-03-04, recorded by Tomas Reed: pump exchanged" {
			t.Errorf("got %q %+v", voided, s)
		}
	})
	t.Run("sent again it is stored once, and answered as before", func(t *testing.T) {
		again := e
		again.HappenedAt = at(63) // "just now" is another instant the second time
		voided, err := w.RecordUnitEvent(ctx, w.supervisor, again, at(63))
		must(t, err)
		all, err := w.db.UnitEvents(ctx, w.engineer, "U-1")
		must(t, err)
		if voided != first || len(all) != 2 {
			t.Errorf("ended %q, %d events", voided, len(all))
		}
	})
	t.Run("with other content under the same key it is refused", func(t *testing.T) {
		other := e
		other.Detail = "pump cleaned"
		_, err := w.RecordUnitEvent(ctx, w.supervisor, other, at(64))
		refused(t, err, problem.Invalid)
	})
	t.Run("a second event is kept and ends nothing", func(t *testing.T) {
		voided, err := w.RecordUnitEvent(ctx, w.engineer, repair("U-1", at(62)), at(64))
		must(t, err)
		if voided != "" || w.certificate(first).WithdrawnBy != "Tomas Reed" {
			t.Errorf("it ended %q", voided)
		}
	})
	t.Run("after its time was over nothing is left to be ended", func(t *testing.T) {
		w.unitOrFail("U-2")
		number := w.released("U-2")
		late := w.certificate(number).ValidUntil.Add(time.Second)
		voided, err := w.RecordUnitEvent(ctx, w.engineer, repair("U-2", late), late.Add(time.Hour))
		must(t, err)
		if voided != "" || w.certificate(number).Status(late) != commissioning.Expired {
			t.Errorf("it ended %q", voided)
		}
	})
}

// The evidence of a run ends with the engineer's signature: what happens to the
// unit after that must keep it from being released.
func TestUnitEvent_between_the_signatures_stops_the_release(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.submitted("U-1")
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "l24o", at(50)))
	_, err := w.RecordUnitEvent(ctx, w.engineer, repair("U-1", at(48)), at(49))
	must(t, err)
	_, err = w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
	refused(t, err, problem.Conflict)
	if !strings.Contains(err.Error(), "pump exchanged") {
		t.Errorf("the refusal does not say what happened: %v", err)
	}
	must(t, w.Return(ctx, w.supervisor, r.ID, r.Head, "pump exchanged since", at(52)))
}

func TestRecallLot(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	var numbers []commissioning.CertificateNumber
	for _, unit := range []string{"U-1", "U-2", "U-3"} {
		w.unitOrFail(unit)
		numbers = append(numbers, w.released(unit))
	}
	w.unitOrFail("U-4")
	struck, corrected := w.open("U-4"), "L-78"
	w.record(struck.ID, entry(commissioning.Entry{
		Kind: commissioning.KindLoad, Step: "fill-ink", Position: commissioning.Ink, Fluid: "K-20", Lot: &corrected, Expires: "2027-01-31", LevelPercent: "90",
	}, 5))
	right := "l - 77"
	w.record(struck.ID, entry(commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: 1, Reason: "read the wrong label", Replacement: &commissioning.Entry{
		Kind: commissioning.KindLoad, ObservedAt: at(5), Step: "fill-ink", Position: commissioning.Ink, Fluid: "K-20", Lot: &right, Expires: "2027-01-31", LevelPercent: "90",
	}}, 6))

	t.Run("every run that loaded the lot is found, struck entries apart", func(t *testing.T) {
		loads, err := w.db.LotLoads(ctx, w.quality, "k-20", "L-77 ")
		must(t, err)
		if len(loads) != 4 || !slices.ContainsFunc(loads, func(l commissioning.LotLoad) bool {
			return l.Unit == "U-4" && l.Corrected && l.Stands() && l.State == commissioning.Open && l.Certificate == ""
		}) {
			t.Errorf("found %+v", loads)
		}
		loads, err = w.db.LotLoads(ctx, w.quality, "K-20", "L-78")
		must(t, err)
		if len(loads) != 1 || loads[0].StruckBy != 2 || loads[0].StruckFor != "read the wrong label" {
			t.Errorf("found %+v", loads)
		}
		if loads, err = w.db.LotLoads(ctx, w.quality, "K-20M", "L-77"); err != nil || len(loads) != 0 {
			t.Errorf("another fluid's lot: %+v %v", loads, err)
		}
	})
	must(t, w.withdraw(w.quality, numbers[1], "sample unreadable", at(60)))
	wish := w.recall("lot blocked", numbers...)
	t.Run("refusals", func(t *testing.T) { w.refusesRecalls(t, wish) })
	t.Run("all are withdrawn with one reason, and those withdrawn before are named", func(t *testing.T) {
		skipped, err := w.RecallLot(ctx, w.quality, wish, at(70))
		must(t, err)
		if !slices.Equal(skipped, numbers[1:2]) || w.certificate(numbers[1]).WithdrawnFor != "sample unreadable" {
			t.Errorf("skipped %v", skipped)
		}
		for _, n := range []commissioning.CertificateNumber{numbers[0], numbers[2]} {
			c := w.certificate(n)
			acts, err := w.db.Acts(ctx, w.quality, db.ActFilter{Subject: string(n), Act: "certificate withdrawn"})
			must(t, err)
			if c.Status(at(71)) != commissioning.Withdrawn || c.WithdrawnFor != "lot blocked" || c.WithdrawnCause != "recall" || len(acts) != 1 {
				t.Errorf("%s: %+v, %d acts", n, c, len(acts))
			}
		}
	})
	t.Run("sent again it answers as before", func(t *testing.T) {
		skipped, err := w.RecallLot(ctx, w.quality, wish, at(72))
		must(t, err)
		if !slices.Equal(skipped, numbers[1:2]) {
			t.Errorf("skipped %v", skipped)
		}
	})
	t.Run("with nothing left to withdraw it is a conflict", func(t *testing.T) {
		_, err := w.RecallLot(ctx, w.quality, w.recall("lot blocked", numbers...), at(73))
		refused(t, err, problem.Conflict)
	})
}

func (w *world) refusesRecalls(t *testing.T, wish act.Recall) {
	ctx := t.Context()
	for _, p := range []commissioning.Person{w.engineer, w.supervisor, w.admin} {
		_, err := w.RecallLot(ctx, p, wish, at(61))
		refused(t, err, problem.Forbidden)
	}
	for what, spoil := range map[string]func(*act.Recall){
		"no key": func(r *act.Recall) { r.Key = "" }, "none chosen": func(r *act.Recall) { r.Numbers = nil },
		"no reason": func(r *act.Recall) { r.Reason = " " }, "a proof for another recall": func(r *act.Recall) { r.Key = newID() },
		"one that never held the lot": func(r *act.Recall) { r.Numbers = append(slices.Clone(r.Numbers), "C-0099") },
	} {
		spoiled := wish
		spoil(&spoiled)
		if _, err := w.RecallLot(ctx, w.quality, spoiled, at(61)); problem.KindOf(err) != problem.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	if w.certificate(wish.Numbers[0]).Status(at(62)) != commissioning.Valid {
		t.Error("a refused recall withdrew something")
	}
}

// Whatever the order of releases, events, withdrawals and recalls, at most one
// certificate of a unit stands, it is the newest, and an event after the
// engineer's signature leaves none. dbtest checks the rows at the end as well.
func TestAtMostOneStands(t *testing.T) {
	w := newWorld(t)
	count := 0
	rapid.Check(t, func(r *rapid.T) {
		count++
		unit := fmt.Sprintf("P-%d", count)
		w.shift = 0
		w.unitOrFail(unit)
		var newest commissioning.CertificateNumber
		stands := false
		for range rapid.IntRange(2, 4).Draw(r, "steps") {
			w.shift += 24 * time.Hour
			switch rapid.SampledFrom([]string{"release", "release", "event", "old event", "withdraw", "recall"}).Draw(r, "step") {
			case "release":
				newest, stands = w.released(unit), true
			case "event":
				_, err := w.RecordUnitEvent(t.Context(), w.engineer, repair(unit, w.at(60)), w.at(61))
				must(t, err)
				stands = false
			case "old event":
				_, err := w.RecordUnitEvent(t.Context(), w.engineer, repair(unit, morning.Add(-time.Hour)), w.at(61))
				must(t, err)
			case "withdraw":
				if newest != "" {
					_ = w.withdraw(w.quality, newest, "wrong", w.at(62)) // twice is refused
					stands = false
				}
			case "recall":
				if newest != "" {
					wish := w.recall("lot", newest)
					_, _ = w.RecallLot(t.Context(), w.quality, wish, w.at(63))
					stands = false
				}
			}
			valid, err := w.db.Certificates(t.Context(), w.quality, db.CertificateFilter{OfUnit: unit, Status: "valid"}, w.at(90))
			must(t, err)
			if len(valid) > 1 || (len(valid) == 1) != stands || stands && valid[0].Number != newest {
				r.Fatalf("standing %v, expected %v %s", valid, stands, newest)
			}
		}
	})
	w.shift = 0
}

// An event and a countersignature meet at one instant: either the release is
// refused, or the event ends it. A release that nobody ended must not be left.
func TestEventAndReleaseMeet(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	var refusedN, ended int
	var head time.Duration // how long the signature gets before the event
	for race := range 60 {
		unit := fmt.Sprintf("M-%d", race)
		w.unitOrFail(unit)
		r := w.submitted(unit)
		must(t, w.ReadSample(ctx, w.supervisor, r.ID, "l24o", at(50)))
		var signed bool
		var voided commissioning.CertificateNumber
		together(
			func() { _, signed = w.sign(w.supervisor, r) },
			func() {
				time.Sleep(head)
				var err error
				voided, err = w.RecordUnitEvent(ctx, w.engineer, repair(unit, at(49)), at(52))
				must(t, err)
			})
		if signed != (voided != "") {
			t.Fatalf("signed %t, ended %q", signed, voided)
		}
		if signed {
			ended++
			head = max(0, head-time.Millisecond)
		} else {
			refusedN++
			head += time.Millisecond
		}
	}
	fmt.Printf("event meets release, 60 times: release refused %d, ended %d\n", refusedN, ended)
	if refusedN == 0 || ended == 0 {
		t.Error("they never met both ways: nothing was tried")
	}
}

// Quality, a recall and an event withdraw the same certificate at one instant:
// one of them does, the others find it done.
func TestWithdrawTwice(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	for race := range 40 {
		unit := fmt.Sprintf("W-%d", race)
		w.unitOrFail(unit)
		n := w.released(unit)
		var won [4]bool
		together(
			func() { won[0] = w.withdraw(w.quality, n, "wrong lot", at(60)) == nil },
			func() { won[1] = w.withdraw(w.quality, n, "wrong photo", at(60)) == nil },
			func() {
				wish := w.recall("lot", n)
				_, err := w.RecallLot(ctx, w.quality, wish, at(60))
				won[2] = err == nil
			},
			func() {
				voided, err := w.RecordUnitEvent(ctx, w.engineer, repair(unit, at(59)), at(60))
				must(t, err)
				won[3] = voided != ""
			})
		wins := 0
		for _, ok := range won {
			if ok {
				wins++
			}
		}
		if wins != 1 {
			t.Fatalf("%d of them withdrew it: %v", wins, won)
		}
	}
}
