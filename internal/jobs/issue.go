package jobs

import (
	"context"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
	"settlemark/internal/problem"
)

// sealSoon is when to look again for a release that waits for its seal.
const sealSoon = time.Second

// issue makes the file of a release whose page did not wait for it, because the
// seal came late or the process died.
type issue struct {
	river.WorkerDefaults[act.IssueJob]
	acts *act.Acts
}

func (w *issue) Work(ctx context.Context, job *river.Job[act.IssueJob]) error {
	err := w.acts.Issue(ctx, job.Args.Number)
	if problem.KindOf(err) == problem.Busy {
		return river.JobSnooze(sealSoon)
	}
	return err
}

type issueMissing struct {
	river.WorkerDefaults[act.IssueMissingJob]
	acts *act.Acts
}

func (w *issueMissing) Work(ctx context.Context, _ *river.Job[act.IssueMissingJob]) error {
	waiting, err := w.acts.IssueMissing(ctx)
	if err == nil && waiting > 0 {
		return river.JobSnooze(sealSoon)
	}
	return err
}
