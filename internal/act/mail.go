package act

import (
	"context"
	"slices"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/mail"
	"settlemark/internal/problem"
)

// MailEvents are those of which somebody may be told by e-mail. A check that is
// due is over when an e-mail is read.
var MailEvents = []commissioning.Event{commissioning.EventStopped, commissioning.EventReady, commissioning.EventWaiting}

// WishMail keeps where a person wants to be told by e-mail, and of what; no
// address ends it. It changes no record.
func (a *Acts) WishMail(ctx context.Context, p commissioning.Person, address string, events []commissioning.Event) error {
	if address != "" {
		var err error
		if address, err = mail.Address(address); err != nil {
			return problem.On("address", "This is no e-mail address. Type one such as name@plant.example.")
		}
	}
	for _, e := range events {
		if !slices.Contains(MailEvents, e) {
			return problem.On("events", "Nobody is told of that by e-mail. Choose from the list.")
		}
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if address == "" {
			return tx.EndMailWish(ctx, p.ID)
		}
		return tx.SetMailWish(ctx, p.ID, db.MailWish{Address: address, Events: events})
	})
}

// MailTo gives where the reader of a job is to be told now, and in which language;
// no address when they want it no more.
func (a *Acts) MailTo(ctx context.Context, job MailJob) (address, language string, err error) {
	wish, err := a.db.MailWish(ctx, job.Person, job.Notice.Site)
	switch {
	case problem.KindOf(err) == problem.NotFound:
		return "", "", nil
	case err != nil || !wish.Works || !slices.Contains(wish.Events, job.Notice.Event):
		return "", "", err
	}
	return wish.Address, wish.Language, nil
}
