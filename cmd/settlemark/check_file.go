package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"time"

	"settlemark/handlers"
	"settlemark/internal/certificate"
	"settlemark/internal/problem"
)

// checkers looks at strangers' files, each in a process of its own that may have
// so much memory and so long; few at once, and more are sent away.
type checkers struct {
	program string
	policy  func(context.Context) (string, error)
	log     *slog.Logger
	limit   time.Duration
	turns   chan struct{}
}

const (
	checksAtOnce = 2
	checkLimit   = 10 * time.Second // by the clock; of the processor it may have half of that (boundedSeconds)
	mostReport   = 64 << 10
)

func newCheckers(policy func(context.Context) (string, error), log *slog.Logger) (*checkers, error) {
	program, err := os.Executable()
	return &checkers{program: program, policy: policy, log: log, limit: checkLimit, turns: make(chan struct{}, checksAtOnce)}, err
}

// check is handlers.CheckFile. A file that the process can't look at within its
// bounds is none of ours: ours are made within them.
func (c *checkers) check(ctx context.Context, pdf []byte) (handlers.FileCheck, error) {
	select {
	case c.turns <- struct{}{}:
		defer func() { <-c.turns }()
	default:
		return handlers.FileCheck{}, problem.New(problem.Busy, "Other files are being checked. Try again in a moment.")
	}
	policy, err := c.policy(ctx)
	if err != nil {
		return handlers.FileCheck{}, err
	}
	out, err := c.run(ctx, policy, pdf)
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		return handlers.FileCheck{}, err
	}
	found := handlers.FileCheck{Verdict: int(certificate.NotOurs)}
	if json.Unmarshal(out, &found) != nil {
		c.log.WarnContext(ctx, "a file could not be checked within its bounds", "bytes", len(pdf), "ended", fmt.Sprint(err))
		return handlers.FileCheck{Verdict: int(certificate.NotOurs)}, nil
	}
	return found, nil
}

// run starts this program anew with nothing of its environment, so that the
// process knows no secret; the policy comes through a pipe.
func (c *checkers) run(ctx context.Context, policy string, pdf []byte) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, c.limit)
	defer cancel()
	read, write, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer read.Close()                                                                                          //nolint:errcheck // the child has its own
	child := exec.CommandContext(ctx, c.program, "verify", "--bounded", "--json", "--policy", "/dev/fd/3", "-") //nolint:gosec // our own program
	out := &bounded{most: mostReport}
	child.Stdin, child.Stdout, child.ExtraFiles, child.Env = bytes.NewReader(pdf), out, []*os.File{read}, []string{}
	child.WaitDelay = time.Second
	err = child.Start()
	if err == nil {
		_, err = write.WriteString(policy)
	}
	if err = errors.Join(err, write.Close()); err != nil {
		cancel()
	}
	err = errors.Join(err, child.Wait())
	return out.kept, err
}

// bounded keeps the beginning of what is written.
type bounded struct {
	kept []byte
	most int
}

func (b *bounded) Write(p []byte) (int, error) {
	b.kept = append(b.kept, p[:min(len(p), b.most-len(b.kept))]...)
	return len(p), nil
}
