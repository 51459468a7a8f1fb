package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/fsck"
)

// checking is what the arguments of fsck ask for.
type checking struct {
	policy      string
	checkpoints []string
}

// runFsck checks the whole record and prints what is wrong with it, a line
// each. The exit status is 0 when it is sound, 1 when not, 2 when it could not
// be read.
func runFsck(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	var asked checking
	flags := flag.NewFlagSet("fsck", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&asked.policy, "policy", "", "whose logs and witnesses to believe")
	flags.Func("checkpoint", "a checkpoint that was kept elsewhere", func(name string) error {
		asked.checkpoints = append(asked.checkpoints, name)
		return nil
	})
	if flags.Parse(args) != nil || flags.NArg() > 0 {
		say(stderr, "usage: settlemark fsck [--policy FILE] [--checkpoint FILE]...")
		return 2
	}
	return withRecord(ctx, stderr, 2, func(s *store, acts *act.Acts, c config) (int, error) {
		outside, from, err := asked.outside(c)
		if err != nil {
			return 0, err
		}
		begun := time.Now()
		report, err := fsck.Check(ctx, s.db, outside)
		if err != nil {
			return 0, err
		}
		for _, fault := range report.Faults {
			say(stdout, "%s", oneLine(fault))
		}
		say(stdout, "read     %d runs, %d entries, %d rows of evidence, in %d ms", report.Runs, report.Entries, report.Rows, time.Since(begun).Milliseconds())
		say(stdout, "log      %d leaves, %d checkpoints, %d leaves wait to be sealed", report.Leaves, report.Checkpoints, report.Waiting)
		say(stdout, "outside  %s", from)
		if len(report.Faults) > 0 {
			say(stdout, "%d faults", len(report.Faults))
			return 1, nil
		}
		say(stdout, "sound")
		return 0, nil
	})
}

// outside reads what was kept elsewhere: what the arguments name, and what lies
// beside the log's key on this machine.
func (asked checking) outside(c config) (fsck.Outside, string, error) {
	var o fsck.Outside
	if asked.policy != "" {
		text, err := os.ReadFile(asked.policy)
		if err != nil {
			return o, "", err
		}
		o.Policy = string(text)
	}
	beside := c.log.HighWater()
	for _, name := range append(asked.checkpoints, beside) {
		text, err := os.ReadFile(name) //nolint:gosec // the operator names the file
		if errors.Is(err, fs.ErrNotExist) && name == beside {
			continue
		}
		if err != nil {
			return o, "", err
		}
		o.Checkpoints = append(o.Checkpoints, text)
	}
	keys := "the keys that the database names: give --policy with a policy that was kept elsewhere"
	if asked.policy != "" {
		keys = "the keys of " + asked.policy
	}
	return o, fmt.Sprintf("%d checkpoints, %s", len(o.Checkpoints), keys), nil
}
