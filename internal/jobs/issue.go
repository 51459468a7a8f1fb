// Package jobs is the background work. Every job calls an act, so that it may
// die at any point and be done again. It knows neither HTTP nor SQL.
package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// Issue makes the files of releases whose process died before it could, now
// and then at every tick, until the context ends.
func Issue(ctx context.Context, acts *act.Acts, every time.Duration, log *slog.Logger) {
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	for {
		if err := acts.IssueMissing(ctx); err != nil && ctx.Err() == nil {
			log.ErrorContext(ctx, "issuing certificates", "error", err.Error())
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}
