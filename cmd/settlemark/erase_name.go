package main

import (
	"context"
	"flag"
	"io"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

const eraseNameUsage = "usage: settlemark erase-name --person CODE --administrator LOGIN --quality LOGIN --reason TEXT"

// eraseName puts a pseudonym in place of the name of somebody who left.
func eraseName(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	var e act.Erasure
	flags := flag.NewFlagSet("erase-name", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	person := flags.String("person", "", "code of who left")
	flags.StringVar(&e.Administrator, "administrator", "", "who does it")
	flags.StringVar(&e.Quality, "quality", "", "who agreed")
	flags.StringVar(&e.Reason, "reason", "", "why, without the name")
	if flags.Parse(args) != nil || flags.NArg() > 0 || *person == "" || e.Administrator == "" || e.Quality == "" || e.Reason == "" {
		say(stderr, eraseNameUsage)
		return 2
	}
	e.Person = commissioning.PersonID(*person)
	return withRecord(ctx, stderr, 1, func(_ *store, acts *act.Acts, _ config) (int, error) {
		if err := acts.EraseName(ctx, e, time.Now()); err != nil {
			return 0, err
		}
		say(stdout, "Name, login and proofs of identity of %s are erased. What was signed keeps the printed name: docs/personal-data.md.", e.Person)
		return 0, nil
	})
}
