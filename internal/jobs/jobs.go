// Package jobs is the background work. What acts leave for later, and what the
// clock asks for, is worked from a queue in the database by whichever process
// is free; the sequencer of the log alone, with its questions to witnesses, is a
// loop under a lock of its own (seal.go, witness.go). Every job calls an act, so that it may die at any point and be done
// again. The package knows neither HTTP nor SQL.
package jobs

import (
	"context"
	"log/slog"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"

	"settlemark/db"
	"settlemark/internal/act"
)

const (
	workers   = 4
	softLimit = 5 * time.Second // a job that takes longer at the end is cut off, and done again elsewhere
	doneStays = time.Hour       // then nobody asks any more what was done
)

// Run works the queue until the context ends.
func Run(ctx context.Context, driver *riverpgxv5.Driver, acts *act.Acts, hooks Webhooks, mail *Mail, now func() time.Time, log *slog.Logger) error {
	all := river.NewWorkers()
	river.AddWorker(all, &issue{acts: acts})
	river.AddWorker(all, &issueMissing{acts: acts})
	river.AddWorker(all, &statusList{acts: acts, now: now})
	river.AddWorker(all, &stamp{acts: acts, now: now, log: log})
	river.AddWorker(all, &look{acts: acts, now: now})
	river.AddWorker(all, &deliver{hooks: hooks, now: now, log: log})
	river.AddWorker(all, &post{acts: acts, mail: mail, now: now, log: log})
	periodic := []*river.PeriodicJob{
		every(10*time.Minute, act.IssueMissingJob{}),
		every(time.Minute, act.StatusListJob{}), // a list grows old by itself
		every(10*time.Minute, act.StampJob{}),   // one a day is taken
	}
	client, err := river.NewClient(driver, &river.Config{
		Schema:                      db.JobSchema,
		Queues:                      map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: workers}},
		Workers:                     all,
		PeriodicJobs:                periodic,
		Logger:                      slog.New(calmer{log.Handler()}),
		ErrorHandler:                &gaveUp{log},
		CompletedJobRetentionPeriod: doneStays,
		SoftStopTimeout:             softLimit,
		ReindexerSchedule:           river.NeverSchedule(), // the login that serves owns no index
	})
	if err != nil {
		return err
	}
	if err := client.Start(ctx); err != nil {
		return err
	}
	<-client.Stopped()
	return nil
}

// every asks for a job at the start and then again and again; not while one of
// its kind waits.
func every(pause time.Duration, job db.Job) *river.PeriodicJob {
	once := &river.InsertOpts{MaxAttempts: 1, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
		rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning, rivertype.JobStateScheduled, rivertype.JobStateRetryable,
	}}}
	return river.NewPeriodicJob(river.PeriodicInterval(pause), func() (river.JobArgs, *river.InsertOpts) { return job, once },
		&river.PeriodicJobOpts{RunOnStart: true})
}

// calmer lets through what the queue warns of, and calls nothing of it an
// error: after a lost connection it goes on by itself.
type calmer struct{ slog.Handler }

func (c calmer) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && c.Handler.Enabled(ctx, slog.LevelWarn)
}

func (c calmer) Handle(ctx context.Context, r slog.Record) error {
	r.Level = min(r.Level, slog.LevelWarn)
	return c.Handler.Handle(ctx, r)
}

func (c calmer) WithAttrs(attrs []slog.Attr) slog.Handler { return calmer{c.Handler.WithAttrs(attrs)} }

func (c calmer) WithGroup(name string) slog.Handler { return calmer{c.Handler.WithGroup(name)} }

// gaveUp says when a job failed for the last time.
type gaveUp struct{ log *slog.Logger }

func (g *gaveUp) HandleError(ctx context.Context, job *rivertype.JobRow, err error) *river.ErrorHandlerResult {
	if job.Attempt >= job.MaxAttempts && ctx.Err() == nil {
		g.log.ErrorContext(ctx, "job failed", "job", job.Kind, "args", string(job.EncodedArgs), "error", err.Error())
	}
	return nil
}

func (g *gaveUp) HandlePanic(ctx context.Context, job *rivertype.JobRow, cause any, trace string) *river.ErrorHandlerResult {
	g.log.ErrorContext(ctx, "job panicked", "job", job.Kind, "cause", cause, "stack", trace)
	return nil
}
