package main

import (
	"context"
	"flag"
	"io"
	"os"
	"time"

	"settlemark/internal/act"
)

// exportLog writes the log as a folder that an auditor can keep and check.
func exportLog(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	if len(args) != 1 {
		say(stderr, "usage: settlemark export-log FOLDER")
		return 2
	}
	return withRecord(ctx, stderr, 1, func(_ *store, acts *act.Acts, _ config) (int, error) {
		done, err := acts.ExportLog(ctx, args[0])
		if err == nil {
			say(stdout, "%s: %d epochs, %d leaves, %d checkpoints in %s", done.Origin, done.Epochs, done.Leaves, done.Checkpoints, args[0])
		}
		return 0, err
	})
}

const logEpochUsage = "usage: settlemark log-epoch new --reason REASON [--checkpoint FILE]"

// logEpoch begins another epoch of the log, after a restore or the loss of the
// key.
func logEpoch(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("log-epoch", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	reason := flags.String("reason", "", "why, for the log")
	file := flags.String("checkpoint", "", "the newest checkpoint that was kept elsewhere")
	if len(args) == 0 || args[0] != "new" || flags.Parse(args[1:]) != nil || flags.NArg() > 0 || *reason == "" {
		say(stderr, logEpochUsage)
		return 2
	}
	return withRecord(ctx, stderr, 1, func(_ *store, acts *act.Acts, _ config) (int, error) {
		var known []byte
		if *file != "" {
			var err error
			if known, err = os.ReadFile(*file); err != nil {
				return 0, err
			}
		}
		origin, err := acts.NewEpoch(ctx, *reason, known, time.Now())
		if err == nil {
			say(stdout, "The log goes on as %s. Back up the new key and give out the new policy: /log/policy.txt.", origin)
		}
		return 0, err
	})
}

const logKeyUsage = "usage: settlemark log-key rotate, and some weeks later settlemark log-key retire"

// logKey lets another key follow the one that signs the log.
func logKey(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	if len(args) != 1 || args[0] != "rotate" && args[0] != "retire" {
		say(stderr, logKeyUsage)
		return 2
	}
	return withRecord(ctx, stderr, 1, func(_ *store, acts *act.Acts, _ config) (int, error) {
		if args[0] == "retire" {
			err := acts.RetireLogKey(ctx)
			if err == nil {
				say(stdout, "The new key alone signs from now on.")
			}
			return 0, err
		}
		vkey, err := acts.RotateLogKey(ctx, time.Now())
		if err == nil {
			say(stdout, "Both keys sign from now on. The new one is %s", vkey)
			say(stdout, "Back up the key file, give out the new policy (/log/policy.txt), and retire the old key when everybody has it.")
		}
		return 0, err
	})
}
