package main

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/problem"
)

// The process that looks at an upload, with the published certificates.
func TestCheckFile(t *testing.T) {
	said := &bytes.Buffer{}
	policy := func(context.Context) (string, error) {
		text, err := os.ReadFile(filepath.Join(vectors, "policy.txt"))
		return string(text), err
	}
	c, err := newCheckers(policy, slog.New(slog.NewTextHandler(said, nil)))
	if err != nil {
		t.Fatal(err)
	}
	c.program = builtProgram(t)
	for file, want := range map[string]int{"genuine.pdf": 5, "byte-in-a-page.pdf": 1, "another-site.pdf": 2, "no-certificate.pdf": 2} {
		t.Run(file, func(t *testing.T) {
			pdf, err := os.ReadFile(filepath.Join(vectors, file))
			if err != nil {
				t.Fatal(err)
			}
			found, err := c.check(t.Context(), pdf)
			genuine := found.Verdict == 4 || found.Verdict == 5 // by the clock: the certificate ends one day
			if err != nil || found.Verdict != want && (want != 5 || !genuine) {
				t.Errorf("%+v, %v, want %d", found, err, want)
			}
			if genuine != (found.Number == "C-0042") || genuine != (len(found.Digest) == 64) {
				t.Errorf("names a certificate: %+v", found)
			}
		})
	}
	t.Run("one that takes the process down is none of ours", func(t *testing.T) {
		down := *c
		down.program = "/bin/false"
		found, err := down.check(t.Context(), []byte("%PDF-1.7\n"))
		if err != nil || found.Verdict != 2 || !bytes.Contains(said.Bytes(), []byte("within its bounds")) {
			t.Errorf("%+v, %v, said %s", found, err, said)
		}
	})
	t.Run("no more than two at once", func(t *testing.T) {
		c.turns <- struct{}{}
		c.turns <- struct{}{}
		defer func() { <-c.turns; <-c.turns }()
		if _, err := c.check(t.Context(), nil); problem.KindOf(err) != problem.Busy {
			t.Errorf("%v", err)
		}
	})
	t.Run("it ends in time", func(t *testing.T) {
		slow := *c
		slow.limit = time.Second
		slow.program = filepath.Join(t.TempDir(), "slow")
		if err := os.WriteFile(slow.program, []byte("#!/bin/sh\nexec sleep 60\n"), 0o700); err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		found, err := slow.check(t.Context(), nil)
		if took := time.Since(begun); err != nil || found.Verdict != 2 || took > 5*time.Second {
			t.Errorf("%+v, %v after %s", found, err, took)
		}
	})
	t.Run("its memory is bounded", func(t *testing.T) {
		// A process that has the bound and takes 400 MB is ended by the system.
		t.Setenv("SETTLEMARK_TEST_GREED", "1")
		greedy := exec.Command(os.Args[0], "-test.run", "^TestGreed$")
		if out, err := greedy.CombinedOutput(); err == nil || !strings.Contains(string(out), "out of memory") {
			t.Errorf("%v\n%.300s", err, out)
		}
	})
}

// TestGreed runs in the process that the test above starts, and nowhere else.
func TestGreed(t *testing.T) {
	if os.Getenv("SETTLEMARK_TEST_GREED") == "" {
		return
	}
	if err := bindProcess(); err != nil {
		t.Fatal(err)
	}
	var all [][]byte
	for range 40 {
		all = append(all, bytes.Repeat([]byte{1}, 10<<20))
	}
	t.Log(len(all))
}
