package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// StatusList keeps the signed status list new: it looks at every tick whether
// one is due, until the context ends.
func StatusList(ctx context.Context, acts *act.Acts, every time.Duration, now func() time.Time, log *slog.Logger) {
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	last := ""
	for {
		_, err := acts.IssueStatusList(ctx, now())
		switch {
		case ctx.Err() != nil:
			return
		case err == nil:
			last = ""
		case err.Error() != last: // once, not at every tick
			last = err.Error()
			log.ErrorContext(ctx, "issuing the status list", "error", last)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}
