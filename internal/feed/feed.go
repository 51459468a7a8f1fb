// Package feed takes readings from a file or a pipe to the interface for
// machines of a Settlemark, and keeps them on disk until they are stored there.
// The package knows that interface only, no other of ours.
package feed

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"time"
)

// What one post holds at most; the server takes 1,000 rows and 1 MB.
const (
	mostRows  = 1000
	mostBytes = 900_000
)

// Pauses between two tries double from the first to the last, each shortened at
// random, so that many gateways do not come back at once.
const (
	firstPause = time.Second
	lastPause  = time.Minute
)

// Feed is where readings go. One program at a time uses a spool.
type Feed struct {
	To     string // address that takes the readings of one unit
	Token  string
	Spool  string        // folder
	Gather time.Duration // how long rows are gathered for one post
	Client *http.Client
	Now    func() time.Time
	Say    func(format string, args ...any)
}

// Sum counts rows.
type Sum struct{ Stored, Again, Refused int }

// Run sends what the spool holds and then the input, until both are empty or
// the context ends. What is not stored by then stays in the spool. An error says
// what a person has to mend: the input, the spool, the token or the address.
func (f *Feed) Run(ctx context.Context, in io.Reader) (Sum, error) {
	s, err := openSpool(f.Spool)
	if err != nil {
		return Sum{}, err
	}
	sending, stop := context.WithCancel(ctx)
	defer stop()
	more, ended := make(chan struct{}, 1), make(chan error, 1)
	go func() { ended <- f.gather(sending, in, s, more) }()
	var sum Sum
	for {
		if err := f.drain(ctx, s, &sum); err != nil || ctx.Err() != nil {
			stop()
			return sum, errors.Join(err, <-ended) // what it holds goes to the spool
		}
		select {
		case <-more:
		case err := <-ended:
			return sum, errors.Join(err, f.drain(ctx, s, &sum))
		}
	}
}

// gather writes what comes in to the spool, post by post.
func (f *Feed) gather(ctx context.Context, in io.Reader, s spool, more chan<- struct{}) error {
	lines, failed := make(chan []byte), make(chan error, 1)
	go func() {
		defer close(lines)
		failed <- f.rows(ctx, in, lines)
	}()
	for {
		var row []byte
		var open bool
		select {
		case row, open = <-lines:
		case <-ctx.Done():
			return nil
		}
		if !open {
			return <-failed
		}
		post, size := [][]byte{row}, len(row)
		for due := time.After(f.Gather); open && len(post) < mostRows && size < mostBytes; {
			select {
			case row, open = <-lines:
				if open {
					post, size = append(post, row), size+len(row)
				}
				continue
			case <-due:
			case <-ctx.Done():
			}
			break
		}
		if err := s.add(post, f.Now()); err != nil {
			return err
		}
		select {
		case more <- struct{}{}:
		default: // somebody said so already
		}
	}
}

func (f *Feed) rows(ctx context.Context, in io.Reader, out chan<- []byte) error {
	next, err := read(in)
	for err == nil {
		var row []byte
		if row, err = next(); err != nil {
			break
		}
		if row, err = dated(row, f.Now()); err != nil {
			break
		}
		select {
		case out <- row:
		case <-ctx.Done():
			return nil
		}
	}
	if errors.Is(err, io.EOF) {
		return nil
	}
	return fmt.Errorf("input: %w", err)
}

// drain sends posts, oldest first, until none is left.
func (f *Feed) drain(ctx context.Context, s spool, sum *Sum) error {
	pause := firstPause
	for ctx.Err() == nil {
		path, err := s.oldest()
		if err != nil || path == "" {
			return err
		}
		text, err := os.ReadFile(path) //nolint:gosec // in the operator's own spool
		if err != nil {
			return err
		}
		left, wait, err := f.post(ctx, text, sum)
		switch {
		case err != nil:
			return err
		case wait < 0:
			if err := s.done(path, left); err != nil {
				return err
			}
			pause = firstPause
			continue
		case wait == 0:
			wait = pause/2 + rand.N(pause/2) //nolint:gosec // no secret
			pause = min(2*pause, lastPause)
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
		}
	}
	return nil
}

// answer is that of the interface: to rows, or to the post as a whole.
type answer struct {
	Stored, Again, Refused int
	Rows                   []struct{ Problem, Path string }
	Detail                 string
}

// post sends one post. The wait is negative when it is dealt with, 0 when it is
// to be sent again, and else what the server asks to wait before that.
func (f *Feed) post(ctx context.Context, text []byte, sum *Sum) (left []refused, wait time.Duration, err error) {
	status, head, body, err := f.send(ctx, text)
	if err != nil {
		if ctx.Err() == nil {
			f.Say("not reached, will try again: %v", err)
		}
		return nil, 0, nil
	}
	var a answer
	_ = json.Unmarshal(body, &a) // what is no answer of ours has no rows
	lines := bytes.Split(bytes.TrimSpace(text), []byte("\n"))
	switch {
	case len(a.Rows) == len(lines):
		sum.Stored, sum.Again, sum.Refused = sum.Stored+a.Stored, sum.Again+a.Again, sum.Refused+a.Refused
		for i, row := range a.Rows {
			if row.Problem != "" {
				left = append(left, refused{lines[i], row.Problem})
			}
		}
		return left, -1, nil
	case status == http.StatusUnauthorized, status == http.StatusForbidden, status == http.StatusNotFound:
		return nil, 0, fmt.Errorf("%s answers %d: %s What was read stays in %s", f.To, status, a.Detail, f.Spool)
	case status >= 400 && status < 500 && status != http.StatusTooManyRequests && status != http.StatusRequestTimeout:
		f.Say("refused: %s", a.Detail)
		sum.Refused += len(lines)
		for _, line := range lines {
			left = append(left, refused{line, a.Detail})
		}
		return left, -1, nil
	}
	f.Say("the server answers %d, will try again", status)
	seconds, err := strconv.Atoi(head.Get("Retry-After"))
	if err != nil || seconds < 1 {
		return nil, 0, nil
	}
	return nil, min(time.Duration(seconds)*time.Second, lastPause), nil
}

func (f *Feed) send(ctx context.Context, text []byte) (status int, head http.Header, body []byte, err error) {
	var packed bytes.Buffer
	gz := gzip.NewWriter(&packed)
	if _, err := gz.Write(text); err != nil {
		return 0, nil, nil, err
	}
	if err := gz.Close(); err != nil {
		return 0, nil, nil, err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, f.To, &packed)
	if err != nil {
		return 0, nil, nil, err
	}
	r.Header.Set("Authorization", "Bearer "+f.Token)
	r.Header.Set("Content-Type", "application/x-ndjson")
	r.Header.Set("Content-Encoding", "gzip")
	r.Header.Set("Settlemark-Sent-At", f.Now().UTC().Format("2006-01-02T15:04:05.000Z"))
	answer, err := f.Client.Do(r)
	if err != nil {
		return 0, nil, nil, err
	}
	defer answer.Body.Close() //nolint:errcheck // it was read
	body, err = io.ReadAll(io.LimitReader(answer.Body, 4<<20))
	return answer.StatusCode, answer.Header, body, err
}
