package db

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
)

// How old what a replica shows may be, and how often that is asked.
const (
	mostLag    = 3 * time.Second
	lookEvery  = 500 * time.Millisecond
	lookWithin = 2 * time.Second
	mostMarks  = 20
)

type lagKey struct{}

// Lagging marks reads that may show the record as it was a moment ago. They go to
// the replica while it keeps up. Writes never do, nor what their transaction reads.
func Lagging(ctx context.Context) context.Context { return context.WithValue(ctx, lagKey{}, true) }

// ReadFrom lets marked reads go to a standby until ctx ends, whenever that is less
// than mostLag behind; else they go where everything goes.
func (d *DB) ReadFrom(ctx context.Context, url string, now func() time.Time) error {
	r, err := d.openReplica(ctx, url)
	if err != nil {
		return err
	}
	defer r.pool.Close()
	defer d.pool.replica.Store(nil)
	ticks := time.NewTicker(lookEvery)
	defer ticks.Stop()
	for {
		why := r.look(ctx, now)
		switch used := d.pool.replica.Load() != nil; {
		case why == nil && !used:
			d.log.InfoContext(ctx, "reading from the replica")
			d.pool.replica.Store(r.pool)
		case why != nil && used:
			d.log.WarnContext(ctx, "no longer reading from the replica", "cause", why)
			d.pool.replica.Store(nil)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-ticks.C:
		}
	}
}

// CheckReplica says what keeps a standby from being read from.
func (d *DB) CheckReplica(ctx context.Context, url string, now func() time.Time) error {
	r, err := d.openReplica(ctx, url)
	if err != nil {
		return err
	}
	defer r.pool.Close()
	for began := now(); ; {
		err = r.look(ctx, now)
		if err == nil || now().Sub(began) > mostLag {
			return err
		}
		time.Sleep(lookEvery / 5)
	}
}

// ReadsFromReplica says whether marked reads go to one now.
func (d *DB) ReadsFromReplica() bool { return d.pool.replica.Load() != nil }

// replica is a standby, and how far the primary was at the instants when it was asked.
type replica struct {
	d     *DB
	pool  *pgxpool.Pool
	marks []mark
}

type mark struct {
	at  time.Time
	end int64 // of the primary's log then
}

func (d *DB) openReplica(ctx context.Context, url string) (*replica, error) {
	config, err := poolConfig(url)
	if err != nil {
		return nil, fmt.Errorf("replica: %w", err)
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	return &replica{d: d, pool: pool}, err
}

const (
	walEnd   = `select (pg_current_wal_lsn() - '0/0')::bigint`
	replayed = `select case when pg_is_in_recovery() then (pg_last_wal_replay_lsn() - '0/0')::bigint end`
)

// look says why the replica is not to be read from, nil when it may be. It compares the
// ends of both logs: what a standby that is cut off says of itself is that it is well.
func (r *replica) look(ctx context.Context, now func() time.Time) error {
	ctx, cancel := context.WithTimeout(ctx, lookWithin)
	defer cancel()
	asked := now()
	end, err := value[int64](ctx, r.d.pool.lanes[people], walEnd, args{})
	if err != nil {
		return fmt.Errorf("the primary: %w", err)
	}
	r.marks = append(r.marks, mark{asked, end})
	shown, err := value[*int64](ctx, r.pool, replayed, args{})
	switch {
	case err != nil:
		return fmt.Errorf("the replica: %w", err)
	case shown == nil:
		return fmt.Errorf("the replica: it is no standby")
	}
	if len(r.marks) > mostMarks { // it is far behind; now it counts when it reaches the newest
		r.marks = r.marks[len(r.marks)-1:]
	}
	for len(r.marks) > 1 && r.marks[1].end <= *shown {
		r.marks = r.marks[1:]
	}
	if behind := now().Sub(r.marks[0].at); r.marks[0].end > *shown || behind > mostLag {
		return fmt.Errorf("the replica: it is %s behind", behind.Round(time.Millisecond))
	}
	return nil
}
