package act_test

import (
	"fmt"
	"testing"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
)

// The files that the server keeps, checked as by somebody elsewhere: with no
// list, with the list of before a change, with that list grown old, and with the
// list that follows the change. Every state, by every age of list.
func TestStatesByListAges(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	w.openLog()
	names := []string{"valid", "superseded", "withdrawn by quality", "withdrawn by an event", "withdrawn by a recall", "expired"}
	numbers := map[string]commissioning.CertificateNumber{}
	for i, name := range names {
		unit := fmt.Sprintf("S-%d", i)
		w.unitOrFail(unit)
		numbers[name] = w.released(unit)
		w.seal(evening)
		must(t, w.Issue(ctx, numbers[name]))
	}
	before, _ := w.issueList(evening)

	change := evening.Add(time.Minute)
	w.shift = time.Minute
	w.released("S-1")
	w.shift = 0
	must(t, w.withdraw(w.quality, numbers[names[2]], "wrong", change))
	_, err := w.RecordUnitEvent(ctx, w.engineer, repair("S-3", change), change)
	must(t, err)
	_, err = w.RecallLot(ctx, w.quality, w.recall("blocked", numbers[names[4]]), change)
	must(t, err)
	w.seal(change)
	after, issued := w.issueList(change)
	if !issued {
		t.Fatal("no list follows the changes")
	}

	ended := w.certificate(numbers["expired"]).ValidUntil.Add(time.Hour)
	atEnd := after
	atEnd.Issued, atEnd.NextUpdate = ended.Add(-time.Minute), ended.Add(time.Hour)
	tried := 0
	for _, name := range names {
		pdf, _, err := w.db.CertificatePDF(ctx, w.quality, numbers[name])
		must(t, err)
		revoked := name != "valid" && name != "expired"
		for _, c := range []struct {
			age  string
			list *ledger.StatusList
			now  time.Time
			want certificate.Verdict
		}{
			{"no list", nil, change, certificate.Unsettled},
			{"the list of before", &before, change, certificate.Genuine},
			{"the list of before, grown old", &before, before.NextUpdate.Add(time.Second), certificate.Unsettled},
			{"the newest list", &after, change.Add(time.Second), pick(revoked, certificate.Revoked, certificate.Genuine)},
			{"the newest list, grown old", &after, after.NextUpdate.Add(time.Second), pick(revoked, certificate.Revoked, certificate.Unsettled)},
			{"a list of the day after its end", &atEnd, ended, pick(revoked, certificate.Revoked, certificate.Expired)},
		} {
			report := certificate.Trust{Policy: w.policy(), Status: c.list, Now: c.now, Passkey: act.CheckPasskey}.Verify(pdf)
			if report.Verdict != c.want {
				t.Errorf("%s, with %s: %s, expected %s; %+v", name, c.age, report.Words, c.want, report.Checks)
			}
			tried++
		}
	}
	fmt.Printf("states by list ages: %d states, %d files checked\n", len(names), tried)
}

func pick(yes bool, a, b certificate.Verdict) certificate.Verdict {
	if yes {
		return a
	}
	return b
}
