package demo

import (
	"context"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
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
	if err != nil || t.story.end != takenBack {
		return err
	}
	return t.acts.Withdraw(ctx, t.people[keiko], number, t.story.withdrawn, t.at.Add(30*time.Hour))
}

// release: the supervisor rules on what went beyond the procedure, reads the
// sample and countersigns.
func (t *telling) release(ctx context.Context, supervisor commissioning.Person) (commissioning.CertificateNumber, error) {
	for _, fault := range t.faults {
		reason, ruled := t.story.verdicts[fault.kind]
		if !ruled {
			continue
		}
		recorded, err := t.acts.Rule(ctx, supervisor, t.run.ID, t.run.Head, commissioning.Entry{
			Kind: commissioning.KindDisposition, ID: t.id(), ObservedAt: t.at, Ref: fault.seq,
			Decision: "accept", Reason: reason,
		}, t.at)
		if err != nil {
			return "", err
		}
		t.run = recorded.Run
		t.at = t.at.Add(2 * time.Minute)
	}
	if err := t.acts.ReadSample(ctx, supervisor, t.run.ID, t.code(), t.at); err != nil {
		return "", err
	}
	t.at = t.at.Add(time.Minute)
	number, err := t.acts.Countersign(ctx, supervisor, t.run.ID, t.signing(), "", t.at)
	if err != nil {
		return "", err
	}
	return number, t.acts.Issue(ctx, number)
}

func (t *telling) signing() act.Signing {
	return act.Signing{Head: t.run.Head, Password: password, Nonce: t.id()}
}
