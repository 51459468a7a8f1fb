package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
)

// verify says what a certificate file is worth, each check on a line of its
// own. The exit status is the verdict: 0 genuine and valid, 1 altered, 2 not
// one of ours or unreadable (a wrong argument too), 3 withdrawn or superseded,
// 4 status list missing or too old, 5 expired. It needs no network.
func verify(_ context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	report, asked, err := verifyFile(args, stdin)
	if err != nil {
		say(stderr, "%s", oneLine(err.Error()))
		return int(certificate.NotOurs)
	}
	if !asked.json {
		_, err = io.WriteString(stdout, report.Text())
	} else {
		err = json.NewEncoder(stdout).Encode(report)
	}
	if err != nil {
		say(stderr, "%s", oneLine(err.Error()))
		return int(certificate.NotOurs)
	}
	return int(report.Verdict)
}

// verification is what the arguments ask for.
type verification struct {
	file, policy, status, seen string
	maxAge                     time.Duration
	now                        time.Time
	json, bounded              bool
}

const verifyUsage = "usage: settlemark verify FILE --policy POLICY [--status LIST] [--seen FILE] [--max-age DURATION] [--now INSTANT] [--json]" +
	" (FILE - is standard input; a site publishes its policy at /log/policy.txt and its list at /log/status)"

// mostFile is one byte more than a certificate may have; the rest need not be read.
const mostFile = 20<<20 + 1

func verifyFile(args []string, stdin io.Reader) (certificate.Report, verification, error) {
	asked, err := verifyArguments(args)
	if err != nil {
		return certificate.Report{}, asked, err
	}
	if asked.bounded {
		if err := bindProcess(); err != nil {
			return certificate.Report{}, asked, err
		}
	}
	trust, err := asked.trust()
	if err != nil {
		return certificate.Report{}, asked, err
	}
	pdf, err := readBounded(asked.file, stdin)
	if err != nil {
		return certificate.Report{}, asked, err
	}
	return trust.Verify(pdf), asked, nil
}

// verifyArguments takes flags before and after the file.
func verifyArguments(args []string) (asked verification, err error) {
	flags := flag.NewFlagSet("verify", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&asked.policy, "policy", "", "whose logs to believe")
	flags.StringVar(&asked.status, "status", "", "the site's signed status list")
	flags.StringVar(&asked.seen, "seen", "", "remember the number of the list here, refuse a lower one")
	flags.DurationVar(&asked.maxAge, "max-age", 0, "how old the list may be")
	flags.BoolVar(&asked.json, "json", false, "print the report as JSON")
	flags.BoolVar(&asked.bounded, "bounded", false, "bound this process: the file is a stranger's")
	asked.now = time.Now()
	flags.Func("now", "judge validity and age as of this instant", func(text string) error {
		instant, ok := commissioning.ParseInstant(text)
		if !ok {
			return errors.New("expected an RFC 3339 instant with an offset")
		}
		asked.now = instant
		return nil
	})
	files, err := filesAmong(flags, args)
	if err != nil {
		return asked, fmt.Errorf("verify: %w", err)
	}
	if len(files) > 1 {
		return asked, errors.New(verifyUsage)
	}
	if len(files) == 1 {
		asked.file = files[0]
	}
	if asked.file == "" || asked.policy == "" || asked.maxAge < 0 {
		return asked, errors.New(verifyUsage)
	}
	return asked, nil
}

// filesAmong takes flags before and after the names of files.
func filesAmong(flags *flag.FlagSet, args []string) (files []string, err error) {
	for rest := args; len(rest) > 0; {
		if err := flags.Parse(rest); err != nil {
			return nil, err
		}
		if rest = flags.Args(); len(rest) > 0 {
			files, rest = append(files, rest[0]), rest[1:]
		}
	}
	return files, nil
}

// trust reads what the person goes by.
func (asked verification) trust() (certificate.Trust, error) {
	trust := certificate.Trust{MaxAge: asked.maxAge, Now: asked.now, Passkey: act.CheckPasskey}
	text, err := readBounded(asked.policy, nil)
	if err != nil {
		return trust, err
	}
	if trust.Policy, err = ledger.ReadPolicy(text); err != nil {
		return trust, fmt.Errorf("%s: %w", asked.policy, err)
	}
	if asked.status == "" {
		return trust, nil
	}
	if text, err = readBounded(asked.status, nil); err != nil {
		return trust, err
	}
	list, err := ledger.ReadStatusList(text, trust.Policy)
	if err != nil {
		return trust, fmt.Errorf("%s: %w", asked.status, err)
	}
	if asked.seen != "" {
		if err := remember(asked.seen, list); err != nil {
			return trust, err
		}
	}
	trust.Status = &list
	return trust, nil
}

// remember refuses a list with a lower number than one seen before from the
// same log, which somebody may have kept back to hide a withdrawal.
func remember(path string, list ledger.StatusList) error {
	seen := map[string]int64{}
	text, err := os.ReadFile(path) //nolint:gosec // the person names the file
	if err == nil {
		err = json.Unmarshal(text, &seen)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s: %w", path, err)
	}
	if before := seen[list.Origin]; list.Number < before {
		return fmt.Errorf("status list %d is older than list %d, which was seen before: get a newer one", list.Number, before)
	}
	seen[list.Origin] = list.Number
	if text, err = json.Marshal(seen); err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o600)
}

// readBounded reads a file, "-" from standard input where there is one.
func readBounded(path string, stdin io.Reader) ([]byte, error) {
	from := stdin
	if path != "-" || stdin == nil {
		f, err := openFile(path)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		defer func() { _ = f.Close() }() // it was only read
		from = f
	}
	return io.ReadAll(io.LimitReader(from, mostFile))
}
