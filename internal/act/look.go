package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// Webhook is a receiver in the plant that is told of events; of all when it
// names none.
type Webhook struct {
	Name   string
	Events []commissioning.Event
}

func (w Webhook) wants(e commissioning.Event) bool {
	for _, wanted := range w.Events {
		if wanted == e {
			return true
		}
	}
	return len(w.Events) == 0
}

// LookJob looks whether somebody is to be told of a run.
type LookJob struct {
	Run commissioning.RunID `json:"run"`
}

// WebhookJob tells one receiver of one notice.
type WebhookJob struct {
	Target string               `json:"target"`
	Notice commissioning.Notice `json:"notice"`
}

// MailJob tells one person of one notice by e-mail.
type MailJob struct {
	Person commissioning.PersonID `json:"person"`
	Notice commissioning.Notice   `json:"notice"`
}

// Kind names the job in the queue.
func (MailJob) Kind() string { return "mail" }

// Kind names the job in the queue.
func (LookJob) Kind() string { return "look" }

// Kind names the job in the queue.
func (WebhookJob) Kind() string { return "webhook" }

// Look tells of what happened in a run and was not told before: it keeps a
// notice, which every open page of the run shows and sounds, and leaves a job for
// each webhook and each reader of e-mails in the same transaction, so that however
// many processes look, each is told once. Where time alone brings the next event it leaves a job to look
// again then.
func (a *Acts) Look(ctx context.Context, run commissioning.RunID, now time.Time) error {
	book, err := a.db.StreamBook(ctx, run)
	if err != nil {
		return err
	}
	at := book.JudgedAt(moment(now))
	moments, next := rules.Examine(book.Logbook(at), at).Moments(book.Run, book.Procedure.Procedure, moment(now))
	if len(moments) == 0 && next.IsZero() {
		return nil
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		for _, m := range moments {
			if err := a.tell(ctx, tx, commissioning.Notice{Run: run, Unit: book.Unit.Tag, Site: book.Site.ID, Moment: m}); err != nil {
				return err
			}
		}
		if next.IsZero() {
			return nil
		}
		return tx.EnqueueAt(ctx, LookJob{Run: run}, next)
	})
}

func (a *Acts) tell(ctx context.Context, tx *db.Tx, n commissioning.Notice) error {
	id, fresh, err := tx.AddNotice(ctx, n.Run, n.Moment)
	if err != nil || !fresh {
		return err
	}
	n.ID = id
	for _, w := range a.Webhooks {
		if w.wants(n.Event) {
			if err := tx.Enqueue(ctx, WebhookJob{Target: w.Name, Notice: n}); err != nil {
				return err
			}
		}
	}
	if a.Mail {
		readers, err := tx.MailReaders(ctx, n.ID)
		if err != nil {
			return err
		}
		for _, p := range readers {
			if err := tx.Enqueue(ctx, MailJob{Person: p, Notice: n}); err != nil {
				return err
			}
		}
	}
	return tx.Announce(ctx, n.Run)
}
