package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// Seal keeps the log sealed: it looks at every tick, and at once again while
// there is more than one round takes, until the context ends.
func Seal(ctx context.Context, acts *act.Acts, every time.Duration, now func() time.Time, log *slog.Logger) {
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	last := ""
	for {
		sealed, err := acts.Seal(ctx, now())
		switch {
		case ctx.Err() != nil:
			return
		case err == nil:
			last = ""
		case err.Error() != last: // once, not ten times a second
			last = err.Error()
			log.ErrorContext(ctx, "sealing the log", "error", last)
		}
		if err == nil && sealed >= act.SealBatch {
			continue
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}
