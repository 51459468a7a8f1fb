package jobs

import (
	"context"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
)

// statusList keeps the signed status list new: after each change, and before
// the last one grows old.
type statusList struct {
	river.WorkerDefaults[act.StatusListJob]
	acts *act.Acts
	now  func() time.Time
}

func (w *statusList) Work(ctx context.Context, _ *river.Job[act.StatusListJob]) error {
	_, err := w.acts.IssueStatusList(ctx, w.now())
	return err
}
