package jobs

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/webhook"
)

// deadAfter is when nobody wants to hear of it any more.
const deadAfter = 24 * time.Hour

// Webhooks are the receivers in the plant.
type Webhooks struct {
	Sender  *webhook.Sender
	Targets []webhook.Target
	Site    string // address of the site, for links; "" for none
}

// look tells of what happened in a run.
type look struct {
	river.WorkerDefaults[act.LookJob]
	acts *act.Acts
	now  func() time.Time
}

func (w *look) Work(ctx context.Context, job *river.Job[act.LookJob]) error {
	return w.acts.Look(ctx, job.Args.Run, w.now())
}

// deliver brings a notice to one receiver, again and again until it took it or
// the notice is a day old.
type deliver struct {
	river.WorkerDefaults[act.WebhookJob]
	hooks Webhooks
	now   func() time.Time
	log   *slog.Logger
}

func (w *deliver) Work(ctx context.Context, job *river.Job[act.WebhookJob]) error {
	n := job.Args.Notice
	age := w.now().Sub(n.At)
	if age > deadAfter {
		return river.JobCancel(fmt.Errorf("%s was not reached within %s", job.Args.Target, deadAfter))
	}
	for _, t := range w.hooks.Targets {
		if t.Name != job.Args.Target {
			continue
		}
		m := webhook.Message{ID: fmt.Sprint("notice-", n.ID), Event: string(n.Event), At: n.At, Unit: n.Unit, Run: string(n.Run), Text: n.Text}
		if w.hooks.Site != "" {
			m.URL = w.hooks.Site + urls.Run(n.Run)
		}
		if err := w.hooks.Sender.Send(ctx, t, m); err != nil {
			w.log.WarnContext(ctx, "a webhook was not delivered", "notice", n.ID, "cause", err)
			return river.JobSnooze(pause(age))
		}
		return nil
	}
	return nil // the operator took the target away
}

// pause before the next try: soon at first, every quarter of an hour in the end.
func pause(age time.Duration) time.Duration {
	return min(max(age/2, 2*time.Second), 15*time.Minute)
}
