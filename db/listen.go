package db

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgxlisten"

	"settlemark/internal/commissioning"
)

// Listen calls onRun with each run that a committed transaction has changed,
// here or in another process, and onReset whenever changes may have been
// missed: at the start and after each lost connection. It blocks until ctx ends.
func (d *DB) Listen(ctx context.Context, onRun func(commissioning.RunID), onReset func()) error {
	l := &pgxlisten.Listener{
		Connect:        d.connectToListen,
		ReconnectDelay: time.Second,
		LogError: func(ctx context.Context, err error) {
			if ctx.Err() == nil {
				d.log.WarnContext(ctx, "listening for changes", "cause", err)
			}
		},
	}
	l.Handle("settlemark_runs", runHandler{onRun, onReset})
	return l.Listen(ctx)
}

// connectToListen gives a connection outside the pool: it waits for ever, so
// the pool's deadlines are not for it.
func (d *DB) connectToListen(ctx context.Context) (*pgx.Conn, error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	return pgx.ConnectConfig(ctx, d.pool.lanes[people].Config().ConnConfig)
}

type runHandler struct {
	onRun   func(commissioning.RunID)
	onReset func()
}

func (h runHandler) HandleNotification(_ context.Context, n *pgconn.Notification, _ *pgx.Conn) error {
	h.onRun(commissioning.RunID(n.Payload))
	return nil
}

// HandleBacklog comes after each connect, when listening has begun.
func (h runHandler) HandleBacklog(context.Context, string, *pgx.Conn) error {
	h.onReset()
	return nil
}
