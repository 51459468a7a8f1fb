// Package jobs is the background work. Every job calls an act, so that it may
// die at any point and be done again. It knows neither HTTP nor SQL.
package jobs

import (
	"context"
	"log/slog"
	"time"

	"settlemark/internal/act"
)

// sealSoon is when to look first for a release that waits for its seal.
const sealSoon = 250 * time.Millisecond

// Issue makes the files of releases that have none, because their seal came late
// or the process died before it could: now and then at every tick, sooner while
// one waits for its seal, until the context ends.
func Issue(ctx context.Context, acts *act.Acts, every time.Duration, log *slog.Logger) {
	soon := sealSoon
	for {
		waiting, err := acts.IssueMissing(ctx)
		if err != nil && ctx.Err() == nil {
			log.ErrorContext(ctx, "issuing certificates", "error", err.Error())
		}
		next := every
		if waiting > 0 {
			next, soon = soon, min(2*soon, every)
		} else {
			soon = sealSoon
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(next):
		}
	}
}
