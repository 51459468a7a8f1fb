package db

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"settlemark/internal/problem"
)

// JobSchema is where the queue's tables lie.
const JobSchema = "river"

// jobConnections serve the queue: one listens, the others fetch and tend it.
// What jobs do goes through the lane of people.
const jobConnections = 4

// Job is work that a transaction leaves for later: it is there if and only if
// the transaction is. Its kind and its fields are stored, so they stay readable.
type Job interface{ Kind() string }

// Enqueue leaves jobs that may be worked at once, by any process.
func (t *Tx) Enqueue(ctx context.Context, jobs ...Job) error {
	for _, job := range jobs {
		if err := t.EnqueueAt(ctx, job, time.Time{}); err != nil {
			return err
		}
	}
	return nil
}

// EnqueueAt leaves a job that is not worked before an instant.
func (t *Tx) EnqueueAt(ctx context.Context, job Job, at time.Time) (err error) {
	defer problem.Wrap(&err, "EnqueueAt(%s)", job.Kind())
	_, err = t.jobs.InsertTx(ctx, t.tx, job, &river.InsertOpts{ScheduledAt: at})
	return explain(err)
}

// JobDriver lets a process work the queue, over connections of its own until
// done is called.
func (d *DB) JobDriver(ctx context.Context) (driver *riverpgxv5.Driver, done func(), err error) {
	config := d.pool.lanes[people].Config()
	config.MaxConns, config.MinConns = jobConnections, 0
	config.ConnConfig.RuntimeParams["statement_timeout"] = "30s" // it clears away many rows at once
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, nil, explain(err)
	}
	return riverpgxv5.New(pool), pool.Close, nil
}
