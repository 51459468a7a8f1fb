package demo

import (
	"context"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// finish is what the second person does, as far as the story goes.
func (t *telling) finish(ctx context.Context) error {
	if t.story.end == underWay {
		return nil
	}
	t.pass(1)
	if _, err := t.post(ctx); err != nil {
		return err
	}
	if err := t.acts.Submit(ctx, t.engineer, t.run.ID, t.signing(), t.at); err != nil {
		return err
	}
	supervisor := t.people[t.story.supervisor]
	switch t.story.end {
	case submitted:
		return nil
	case sentBack:
		t.at = t.at.Add(20 * time.Minute)
		return t.acts.Return(ctx, supervisor, t.run.ID, t.run.Head, t.story.returned, t.at)
	}
	t.at = t.at.Add(time.Duration(15+t.chance.IntN(80)) * time.Minute)
	number, err := t.release(ctx, supervisor)
	if err != nil {
		return err
	}
	if e := t.story.ended; e.kind != "" {
		at := t.at.Add(e.later)
		_, err := t.acts.RecordUnitEvent(ctx, t.engineer, commissioning.UnitEvent{
			ID: t.id(), Unit: t.unit.Tag, Kind: e.kind, Detail: e.text, HappenedAt: at.Add(-20 * time.Minute),
		}, at)
		return err
	}
	if t.story.end != takenBack {
		return nil
	}
	t.at = t.at.Add(30 * time.Hour)
	_, err = t.acts.RecallLot(ctx, t.people[keiko], act.Recall{
		Key: t.id(), Fluid: t.unit.Makeup, Lot: t.lot(t.unit.Makeup), Numbers: []commissioning.CertificateNumber{number},
		Reason: t.story.recalled, Proof: proof(t.at),
	}, t.at)
	return err
}

// release: the supervisor rules on what went beyond the procedure, reads the
// sample and countersigns.
func (t *telling) release(ctx context.Context, supervisor commissioning.Person) (commissioning.CertificateNumber, error) {
	for _, fault := range t.faults {
		if reason, ruled := t.story.verdicts[fault.kind]; ruled {
			if err := t.accept(ctx, supervisor, fault.seq, reason); err != nil {
				return "", err
			}
		}
	}
	if t.story.overdue != "" {
		first, err := t.firstTemperature(ctx)
		if err != nil {
			return "", err
		}
		if err := t.accept(ctx, supervisor, first, t.story.overdue); err != nil {
			return "", err
		}
	}
	if err := t.acts.ReadSample(ctx, supervisor, t.run.ID, t.code(), t.at); err != nil {
		return "", err
	}
	t.at = t.at.Add(time.Minute)
	number, err := t.acts.Countersign(ctx, supervisor, t.run.ID, t.signing(), "", t.at)
	if err != nil {
		return "", err
	}
	err = t.acts.Issue(ctx, number)
	if problem.KindOf(err) == problem.Busy { // not sealed yet; the job makes the file
		err = nil
	}
	return number, err
}

// accept is a supervisor's ruling on one entry.
func (t *telling) accept(ctx context.Context, supervisor commissioning.Person, seq int, reason string) error {
	recorded, err := t.acts.Rule(ctx, supervisor, t.run.ID, t.run.Head, commissioning.Entry{
		Kind: commissioning.KindDisposition, ID: t.id(), ObservedAt: t.at, Ref: seq,
		Decision: commissioning.Accept, Reason: reason,
	}, t.at)
	if err != nil {
		return err
	}
	t.run = recorded.Run
	t.at = t.at.Add(2 * time.Minute)
	return nil
}

// firstTemperature is the seq of the first reading of what the overdue
// thermometer measures.
func (t *telling) firstTemperature(ctx context.Context) (int, error) {
	book, err := t.db.Logbook(ctx, t.engineer, t.run.ID)
	var first commissioning.Entry
	for _, e := range book.Entries {
		if e.Kind == commissioning.KindReading && e.Quantity == "temperature" && (first.Seq == 0 || e.ObservedAt.Before(first.ObservedAt)) {
			first = e
		}
	}
	return first.Seq, err
}

func (t *telling) signing() act.Signing {
	return act.Signing{Head: t.run.Head, Proof: proof(t.at), Nonce: t.id()}
}
