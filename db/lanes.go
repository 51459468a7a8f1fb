package db

import (
	"context"
	"sync/atomic"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// lane is whose turn a call takes. Each has connections of its own, so that
// people's pages stay quick while a hundred gateways catch up, and the log is
// sealed meanwhile.
type lane int

const (
	people lane = iota // as many connections as the address says
	ingest
	sealing
	lanes
)

// connections of the lanes whose number the address does not say. Whoever seals
// looks around while its transaction is open.
var connections = [lanes]int32{ingest: 5, sealing: 2}

type laneKey struct{}

// Ingest marks what machines send: gateways, brokers, and tablets that catch up.
func Ingest(ctx context.Context) context.Context { return context.WithValue(ctx, laneKey{}, ingest) }

// Sealing marks what the sequencer of the log does.
func Sealing(ctx context.Context) context.Context { return context.WithValue(ctx, laneKey{}, sealing) }

// pools are the connections of every lane, and those to the replica while that may
// be read from.
type pools struct {
	lanes   [lanes]*pgxpool.Pool
	replica atomic.Pointer[pgxpool.Pool]
}

func openPools(ctx context.Context, config *pgxpool.Config) (p *pools, err error) {
	p = &pools{}
	for l := range lanes {
		own := config.Copy()
		if most := connections[l]; most > 0 {
			own.MaxConns, own.MinConns = most, 0
		}
		if p.lanes[l], err = pgxpool.NewWithConfig(ctx, own); err != nil {
			p.Close()
			return p, err
		}
	}
	return p, nil
}

// of gives the pool of the call's lane; who says nothing is a person.
func (p *pools) of(ctx context.Context) *pgxpool.Pool {
	l, _ := ctx.Value(laneKey{}).(lane)
	return p.lanes[l]
}

// reading gives first the replica where the call may read from it, and what to turn
// to when that is gone.
func (p *pools) reading(ctx context.Context) []*pgxpool.Pool {
	if replica := p.replica.Load(); replica != nil && ctx.Value(lagKey{}) != nil {
		return []*pgxpool.Pool{replica, p.of(ctx)}
	}
	return []*pgxpool.Pool{p.of(ctx)}
}

func (p *pools) Close() {
	for _, pool := range p.lanes {
		if pool != nil {
			pool.Close()
		}
	}
}

func (p *pools) Query(ctx context.Context, sql string, a ...any) (pgx.Rows, error) {
	var rows pgx.Rows
	var err error
	for _, pool := range p.reading(ctx) {
		if rows, err = pool.Query(ctx, sql, a...); err == nil {
			break
		}
	}
	return rows, err
}

func (p *pools) Exec(ctx context.Context, sql string, a ...any) (pgconn.CommandTag, error) {
	return p.of(ctx).Exec(ctx, sql, a...)
}

func (p *pools) BeginTx(ctx context.Context, options pgx.TxOptions) (pgx.Tx, error) {
	var tx pgx.Tx
	var err error
	for _, pool := range p.reading(ctx) {
		if tx, err = pool.BeginTx(ctx, options); err == nil {
			break
		}
	}
	return tx, err
}
