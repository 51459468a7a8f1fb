package main

import (
	"context"
	"fmt"
	"log/slog"

	"github.com/jackc/pgx/v5"

	"settlemark/db"
	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// store is the open database, with the server that we started for it.
type store struct {
	db      *db.DB
	private *privatepg.Server // nil with DATABASE_URL
}

// openStore starts or finds Postgres, migrates as its owner and opens it as
// the login that serves, which must not be able to change evidence.
func openStore(ctx context.Context, c config, log *slog.Logger) (_ *store, err error) {
	s := &store{}
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	if c.privateSrv {
		if s.private, err = privatepg.Start(ctx, c.data, log); err != nil {
			return nil, err
		}
		c.appURL, c.ownerURL = s.private.AppURL(), s.private.OwnerURL()
	}
	if c.ownerURL != "" {
		serving, err := loginOf(c.appURL)
		if err != nil {
			return nil, err
		}
		if err := db.Migrate(ctx, c.ownerURL, serving); err != nil {
			return nil, fmt.Errorf("migrations: %w", err)
		}
	}
	if s.db, err = db.Open(ctx, c.appURL, log); err != nil {
		return nil, badAddress(err)
	}
	if err := s.db.Ping(ctx); err != nil {
		return nil, &problem.Error{
			Kind: problem.Busy, Cause: err,
			Sentence: words.Say("The database does not answer. See that the server of DATABASE_URL runs and lets this login in."),
		}
	}
	return s, s.db.CheckRights(ctx)
}

// checkDurability refuses a database that may lose what was acknowledged, unless the operator
// wants that; weak says that it is so.
func checkDurability(ctx context.Context, c config, d *db.DB) (weak bool, err error) {
	settings, err := d.Durability(ctx)
	if err != nil {
		return false, err
	}
	if weak = settings.Grade() == db.GradeC; weak && !c.weak {
		return weak, problem.New(problem.Forbidden, "The database is set so that what was acknowledged may be lost in a crash: fsync %t, full_page_writes %t, "+
			"synchronous_commit %s. Set them to on, or set SETTLEMARK_WEAK_DURABILITY=1 to serve nevertheless; every page will say so.",
			settings.Fsync, settings.FullPageWrites, settings.SynchronousCommit)
	}
	return weak, nil
}

func loginOf(address string) (string, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return "", badAddress(err)
	}
	return config.User, nil
}

func badAddress(err error) error {
	return &problem.Error{
		Kind: problem.Invalid, Cause: err,
		Sentence: words.Say("DATABASE_URL can't be read. It looks like postgres://LOGIN@HOST:5432/settlemark, with the password as in any Postgres address."),
	}
}

func (s *store) close() {
	if s.db != nil {
		s.db.Close()
	}
	if s.private != nil {
		s.private.Close()
	}
}

// gone is closed when the private server is gone for good; never without one.
func (s *store) gone() <-chan struct{} {
	if s.private == nil {
		return nil
	}
	return s.private.Done()
}
