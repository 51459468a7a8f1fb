package act_test

import (
	"bytes"
	"fmt"
	"sync"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/trial"
)

var races = trial.Times(100, 300)

// Two countersigners, the engineer (who is a supervisor as well), a ruling and a
// late entry meet at one run. Whatever comes first: never two releases, never
// one by somebody who worked on it, never one over a head that the signer was
// not shown.
func TestRaces(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	must(t, w.setRoles(w.admin, w.engineer.ID, []commissioning.Grant{
		{Role: commissioning.Engineer, Site: w.site.ID}, {Role: commissioning.Supervisor, Site: w.site.ID},
	}, morning))
	engineer, err := w.db.Person(ctx, w.engineer.ID)
	must(t, err)
	w.engineer = engineer

	var double, self, stale, released, refusedAll int
	for race := range races {
		r := w.submitted("U-1")
		for _, p := range []commissioning.Person{w.supervisor, w.deputy} {
			must(t, w.ReadSample(ctx, p, r.ID, "L24O", at(46)))
		}
		signers := []commissioning.Person{w.supervisor, w.deputy, w.engineer}
		won := make([]bool, len(signers))
		together(
			func() { _, won[0] = w.sign(signers[0], r) },
			func() { _, won[1] = w.sign(signers[1], r) },
			func() { _, won[2] = w.sign(signers[2], r) },
			func() {
				ruling := entry(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: 1, Decision: commissioning.Accept, Reason: "seen"}, 47)
				if race%3 != 0 { // else the signers meet one another
					_, _ = w.Rule(ctx, w.third, r.ID, r.Head, ruling, at(47)) // who comes late is refused
				}
			},
			func() {
				_, err := w.Record(ctx, author(w.engineer), r.ID, []commissioning.Entry{remark("one more thing", 47)}, evening)
				if problem.KindOf(err) != problem.Conflict {
					t.Errorf("a late entry: %v", err)
				}
			},
		)
		after := w.run(r.ID)
		wins := 0
		for _, won := range won {
			if won {
				wins++
			}
		}
		if wins > 1 {
			double++
		}
		if won[2] {
			self++
		}
		if wins > 0 && !bytes.Equal(after.Head, r.Head) {
			stale++
		}
		if released += wins; wins == 0 {
			refusedAll++
			if _, won := w.sign(w.supervisor, after); !won { // free the unit for the next race
				t.Fatal("the run can't be released after the race")
			}
		}
	}
	fmt.Printf("figure: %d races: released %d, moved on before anybody signed %d, double %d, self %d, stale %d\n",
		races, released, refusedAll, double, self, stale)
	if double+self+stale > 0 || released+refusedAll != races {
		t.Error("a race ended otherwise than it must")
	}
	if released == 0 || refusedAll == 0 {
		t.Error("the races never met: nothing was tried")
	}
}

func (w *world) sign(p commissioning.Person, shown commissioning.Run) (commissioning.CertificateNumber, bool) {
	n, err := w.Countersign(w.t.Context(), p, shown.ID, w.signing(p, shown.Head), "", at(50))
	return n, err == nil
}

// together starts all at once and waits for them.
func together(all ...func()) {
	var ready, finished sync.WaitGroup
	begin := make(chan struct{})
	for _, do := range all {
		ready.Add(1)
		finished.Go(func() {
			ready.Done()
			<-begin
			do()
		})
	}
	ready.Wait()
	close(begin)
	finished.Wait()
}
