package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// Stamp has the log stamped by the site's time stamp authority, which the act
// does once a day; where that fails it tries again at the next tick, until the
// context ends.
func Stamp(ctx context.Context, acts *act.Acts, every time.Duration, now func() time.Time, log *slog.Logger) {
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	for {
		stamped, err := acts.Stamp(ctx, now())
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			log.WarnContext(ctx, "no time stamp over the log", "error", err.Error())
		case stamped:
			log.InfoContext(ctx, "the log is stamped for today")
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}
