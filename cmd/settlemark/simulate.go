package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/feed"
)

const simulateUsage = "usage: settlemark simulate [--seed N] [--procedure KEY|FILE] [--from INSTANT] [--for 2h] [--speed N] [--faults N] [--drop-outs N] [--drift DURATION] [--csv]"

// simulate writes what an invented unit reports to standard output, for
// settlemark feed or a file.
func simulate(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("simulate", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	var u demo.Unit
	flags.Uint64Var(&u.Seed, "seed", 1, "which unit")
	procedure := flags.String("procedure", "return-to-service", "key of a procedure that comes with the program, or its file")
	from := flags.String("from", "", "when its jet is started; else so that it ends when this command does")
	flags.DurationVar(&u.For, "for", 2*time.Hour, "how long it reports")
	speed := flags.Float64("speed", 0, "how many times faster than in truth rows are written; 0 all at once")
	flags.IntVar(&u.Faults, "faults", 1, "faults after the start")
	flags.IntVar(&u.DropOuts, "drop-outs", 0, "how often checks are lost")
	flags.DurationVar(&u.Drift, "drift", 0, "that its clock gains in an hour")
	table := flags.Bool("csv", false, "write CSV, not an object a line")
	if flags.Parse(args) != nil || flags.NArg() > 0 || u.For < 0 || u.Faults < 0 || u.DropOuts < 0 || *speed < 0 {
		say(stderr, simulateUsage)
		return 2
	}
	var err error
	if u.Procedure, err = procedureNamed(*procedure); err == nil {
		u.From, err = begins(*from, u.For, *speed)
	}
	if err != nil {
		say(stderr, "simulate: %v", err)
		return 2
	}
	write := feed.WriteLines(stdout)
	if *table {
		write = feed.WriteTable(stdout)
	}
	if err := report(ctx, u, *speed, write); err != nil {
		say(stderr, "simulate: %v", err)
		return 1
	}
	return 0
}

// begins is when the jet is started: as given, or so that the last row is not of the future.
func begins(text string, lasts time.Duration, speed float64) (time.Time, error) {
	if text != "" {
		return time.Parse(time.RFC3339, text)
	}
	from := time.Now().Add(-lasts)
	if speed > 0 {
		from = from.Add(time.Duration(float64(lasts) / speed))
	}
	return from.Truncate(time.Second), nil
}

func procedureNamed(name string) (commissioning.Procedure, error) {
	shipped, err := commissioning.ShippedProcedures()
	if err != nil {
		return commissioning.Procedure{}, err
	}
	for _, text := range append(shipped, demo.ShortSoak) {
		if p, err := commissioning.ParseProcedure(text); err != nil || p.Key == name {
			return p, err
		}
	}
	text, err := os.ReadFile(name) //nolint:gosec // the caller names the file
	if errors.Is(err, os.ErrNotExist) {
		return commissioning.Procedure{}, fmt.Errorf("no procedure comes with the program as %q, and there is no such file", name)
	}
	if err != nil {
		return commissioning.Procedure{}, err
	}
	return commissioning.ParseProcedure(text)
}

// report writes each check when it is due, until the unit ends or the context does.
func report(ctx context.Context, u demo.Unit, speed float64, write func(feed.Row) error) error {
	began := time.Now()
	for at, readings := range u.Checks() {
		if speed > 0 {
			select {
			case <-ctx.Done():
				return nil
			case <-time.After(time.Until(began.Add(time.Duration(float64(at.Sub(u.From)) / speed)))):
			}
		}
		for _, e := range readings {
			if err := write(feed.Row{Quantity: e.Quantity, Value: e.Value, Unit: e.Unit, State: e.State, ObservedAt: e.ObservedAt, Note: e.Note}); err != nil {
				return err
			}
		}
	}
	return nil
}
