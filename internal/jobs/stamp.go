package jobs

import (
	"context"
	"log/slog"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
)

// stamp has the log stamped by the site's time stamp authority, which the act
// does once a day. One that does not answer is asked again at the next turn.
type stamp struct {
	river.WorkerDefaults[act.StampJob]
	acts *act.Acts
	now  func() time.Time
	log  *slog.Logger
}

func (w *stamp) Work(ctx context.Context, _ *river.Job[act.StampJob]) error {
	stamped, err := w.acts.Stamp(ctx, w.now())
	switch {
	case err != nil && ctx.Err() == nil:
		w.log.WarnContext(ctx, "no time stamp over the log", "error", err.Error())
	case stamped:
		w.log.InfoContext(ctx, "the log is stamped for today")
	}
	return ctx.Err()
}
