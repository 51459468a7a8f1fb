package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
	"settlemark/internal/problem"
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

// Try delivers a test to a receiver, once, whatever it wants to be told of. It
// gives the status with which the receiver did not take it, else 0.
func (w Webhooks) Try(ctx context.Context, id, target string, at time.Time) (status int, err error) {
	i := slices.IndexFunc(w.Targets, func(t webhook.Target) bool { return t.Name == target })
	if i < 0 {
		return 0, problem.On("target", "There is no such receiver. Load the page again.")
	}
	err = w.Sender.Send(ctx, w.Targets[i], webhook.Message{ID: "test-" + id, Event: "test", At: at, Text: "Somebody tries this receiver. Nothing has happened."})
	if answered := (webhook.StatusError{}); errors.As(err, &answered) {
		status = answered.Status
	}
	return status, err
}

// pause before the next try: soon at first, every quarter of an hour in the end.
func pause(age time.Duration) time.Duration {
	return min(max(age/2, 2*time.Second), 15*time.Minute)
}
