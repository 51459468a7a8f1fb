package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"

	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
)

// withRecord runs a subcommand over the database that the environment names,
// also while the program serves from it. When it can't, the status is failed.
func withRecord(ctx context.Context, stderr io.Writer, failed int, do func(s *store, acts *act.Acts, c config) (status int, err error)) int {
	status, err := overRecord(ctx, stderr, do)
	if err == nil {
		return status
	}
	var refusal *problem.Error
	if errors.As(err, &refusal) {
		say(stderr, "settlemark: %s", refusal.Sentence)
	} else {
		say(stderr, "settlemark: %v", err)
	}
	return failed
}

func overRecord(ctx context.Context, stderr io.Writer, do func(s *store, acts *act.Acts, c config) (status int, err error)) (int, error) {
	c, err := readConfig(os.Getenv)
	if err != nil {
		return 0, err
	}
	if c.privateSrv {
		if c.appURL, err = privatepg.Running(c.data); err != nil {
			return 0, fmt.Errorf("%s: %w", c.data, err)
		}
		c.privateSrv = c.appURL == ""
	} else {
		c.ownerURL = "" // whoever serves migrates
	}
	log := slog.New(slog.NewJSONHandler(stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))
	s, err := openStore(ctx, c, log)
	if err != nil {
		return 0, err
	}
	defer s.close()
	secrets, err := auth.ReadSecrets(auth.NewSecret()) // of no use here: nobody signs in
	if err != nil {
		return 0, err
	}
	acts := act.New(s.db, log, secrets)
	acts.Log = c.log
	return do(s, acts, c)
}
