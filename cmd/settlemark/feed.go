package main

import (
	"context"
	"flag"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"settlemark/internal/feed"
)

const feedUsage = "usage: settlemark feed --to ADDRESS --unit CODE --token FILE --spool FOLDER [FILE] (without FILE it reads standard input)"

// feedReadings takes readings to a server until the input ends. It exits with 0
// when all are stored, 1 when some were refused, are still in the spool, or when
// it cannot go on.
func feedReadings(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("feed", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	to := flags.String("to", "", "address of the Settlemark server")
	unit := flags.String("unit", "", "code of the unit that the readings are of")
	token := flags.String("token", "", "file with the gateway's token")
	spool := flags.String("spool", "", "folder that keeps readings until they are stored")
	if flags.Parse(args) != nil || flags.NArg() > 1 || *to == "" || *unit == "" || *token == "" || *spool == "" {
		say(stderr, feedUsage)
		return 2
	}
	if flags.NArg() == 1 {
		file, err := os.Open(flags.Arg(0))
		if err != nil {
			say(stderr, "settlemark: %v", err)
			return 1
		}
		defer file.Close() //nolint:errcheck // it was only read
		stdin = file
	}
	secret, err := os.ReadFile(*token)
	if err != nil {
		say(stderr, "settlemark: %v", err)
		return 1
	}
	f := &feed.Feed{
		To:    strings.TrimRight(*to, "/") + "/api/v1/units/" + url.PathEscape(*unit) + "/readings",
		Token: strings.TrimSpace(string(secret)), Spool: *spool, Gather: time.Second,
		Client: &http.Client{Timeout: 30 * time.Second}, Now: time.Now,
		Say: func(format string, args ...any) { say(stderr, "feed: "+format, args...) },
	}
	sum, err := f.Run(ctx, stdin)
	say(stdout, "%d stored, %d stood there before, %d refused", sum.Stored, sum.Again, sum.Refused)
	switch {
	case err != nil:
		say(stderr, "settlemark: %v", err)
		return 1
	case ctx.Err() != nil:
		say(stderr, "settlemark: stopped; what is not stored yet stays in %s and is sent at the next start", *spool)
		return 1
	case sum.Refused > 0:
		say(stderr, "settlemark: what was refused stands with its reason in %s/refused", *spool)
		return 1
	}
	return 0
}
