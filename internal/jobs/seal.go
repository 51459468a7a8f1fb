package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// Seal keeps the log sealed: it looks at every tick, and at once again while
// there is more than one round takes, until the context ends. Each checkpoint,
// and once an hour the newest, goes to the export folder.
func Seal(ctx context.Context, acts *act.Acts, every time.Duration, now func() time.Time, log *slog.Logger) {
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	last, exported := "", time.Time{}
	for {
		sealed, err := acts.Seal(ctx, now())
		if hour := now().Truncate(time.Hour); sealed > 0 || err == nil && !hour.Equal(exported) {
			if err := acts.ExportCheckpoint(ctx, now()); err != nil && ctx.Err() == nil {
				log.WarnContext(ctx, "copying the checkpoint to the export folder", "cause", err)
			}
			exported = hour
		}
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
