package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/ledger"
	"settlemark/internal/witness"
)

// Witness brings new checkpoints to every witness of the site's policy and
// keeps their cosignatures, until the context ends. A witness that does not
// answer is asked again at the next tick; one that has cosigned another log
// under the same name stops the sealing.
func Witness(ctx context.Context, acts *act.Acts, every time.Duration, log *slog.Logger) {
	all, err := acts.Witnesses()
	if err != nil || len(all) == 0 {
		return // the configuration was checked at the start
	}
	ticks := time.NewTicker(every)
	defer ticks.Stop()
	seen, silent := map[string]int64{}, map[string]bool{}
	for {
		for name, w := range all {
			size, err := showTo(ctx, acts, w, seen[name])
			if err != nil && ctx.Err() == nil && !silent[name] {
				log.WarnContext(ctx, "a witness cosigns nothing", "witness", name, "cause", err)
			}
			seen[name], silent[name] = size, err != nil
			var refused *witness.RefusedError
			if errors.As(err, &refused) {
				acts.Contradicted(name, refused.Why)
			} else {
				acts.Contradicted(name, "")
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}

// showTo shows the newest checkpoint to a witness that has seen the log up to a
// size, and gives the size that it has seen then. The witness knows better than
// we do what it saw last; what it saw was stored here before, so a record that
// is smaller, or another one, was set back.
func showTo(ctx context.Context, acts *act.Acts, w ledger.Witness, seen int64) (int64, error) {
	for asked := 0; ; asked++ {
		newest, err := acts.ToWitness(ctx, seen)
		if err != nil || newest.Size == seen && asked == 0 {
			return seen, err
		}
		if asked > 0 && seen > newest.Size {
			return 0, &witness.RefusedError{Why: fmt.Sprintf("it has seen %d leaves, the record has %d", seen, newest.Size)}
		}
		lines, err := witness.Ask(ctx, w.URL, newest.Submission)
		var other *witness.OtherSizeError
		if errors.As(err, &other) && asked < 3 { // others may show it a checkpoint meanwhile
			seen = other.Size
			continue
		}
		if err != nil {
			return 0, err
		}
		return newest.Size, acts.Cosigned(ctx, newest, lines)
	}
}
