package db

import (
	"context"

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

// pools are the connections of every lane.
type pools [lanes]*pgxpool.Pool

func openPools(ctx context.Context, config *pgxpool.Config) (p pools, err error) {
	for l := range lanes {
		own := config.Copy()
		if most := connections[l]; most > 0 {
			own.MaxConns, own.MinConns = most, 0
		}
		if p[l], err = pgxpool.NewWithConfig(ctx, own); err != nil {
			p.Close()
			return p, err
		}
	}
	return p, nil
}

// of gives the pool of the call's lane; who says nothing is a person.
func (p pools) of(ctx context.Context) *pgxpool.Pool {
	l, _ := ctx.Value(laneKey{}).(lane)
	return p[l]
}

func (p pools) Close() {
	for _, pool := range p {
		if pool != nil {
			pool.Close()
		}
	}
}

func (p pools) Query(ctx context.Context, sql string, a ...any) (pgx.Rows, error) {
	return p.of(ctx).Query(ctx, sql, a...)
}

func (p pools) Exec(ctx context.Context, sql string, a ...any) (pgconn.CommandTag, error) {
	return p.of(ctx).Exec(ctx, sql, a...)
}

func (p pools) BeginTx(ctx context.Context, options pgx.TxOptions) (pgx.Tx, error) {
	return p.of(ctx).BeginTx(ctx, options)
}
