package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// inputError is the exit status for anything wrong with the arguments or the
// files: one line on standard error, nothing on standard output.
const inputError = 2

// evaluate prints the assessment of each logbook file on a line of its own, in
// the order of the arguments. The file "-" is standard input; --at overrides
// the instant of judgement in the files, --forecast adds where the viscosity is heading.
func evaluate(_ context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	out, err := evaluateAll(args, stdin)
	if err != nil {
		say(stderr, "%s", oneLine(err.Error()))
		return inputError
	}
	if _, err := stdout.Write(out); err != nil {
		say(stderr, "%s", oneLine(err.Error()))
		return 1
	}
	return 0
}

// evaluateAll judges every file before anything is printed.
func evaluateAll(args []string, stdin io.Reader) ([]byte, error) {
	asked, err := evaluateArguments(args)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, file := range asked.files {
		book, err := readLogbook(file, stdin)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		if asked.at != nil {
			book.At = *asked.at
		}
		out.Write(asked.judge(book))
	}
	return out.Bytes(), nil
}

// evaluation is what the arguments ask for.
type evaluation struct {
	at       *time.Time
	forecast bool
	files    []string
}

func (asked evaluation) judge(book commissioning.Logbook) []byte {
	if !asked.forecast {
		return rules.Encode(rules.Judge(book, book.At))
	}
	x := rules.Examine(book, book.At)
	return rules.EncodeForecast(x.Assessment, x.Forecast(book.Procedure.Gates.Viscosity.Quantity))
}

// evaluateArguments takes flags before, between and after the files.
func evaluateArguments(args []string) (asked evaluation, err error) {
	flags := flag.NewFlagSet("evaluate", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.BoolVar(&asked.forecast, "forecast", false, "add where the viscosity is heading")
	flags.Func("at", "judge at this instant", func(text string) error {
		instant, ok := commissioning.ParseInstant(text)
		if !ok {
			return errors.New("expected an RFC 3339 instant with an offset")
		}
		asked.at = &instant
		return nil
	})
	for rest := args; len(rest) > 0; {
		if err := flags.Parse(rest); err != nil {
			return evaluation{}, fmt.Errorf("evaluate: %w", err)
		}
		if rest = flags.Args(); len(rest) > 0 {
			asked.files = append(asked.files, rest[0])
			rest = rest[1:]
		}
	}
	if len(asked.files) == 0 {
		return evaluation{}, errors.New("usage: settlemark evaluate [--at INSTANT] [--forecast] FILE… (- is standard input)")
	}
	return asked, nil
}

func readLogbook(file string, stdin io.Reader) (commissioning.Logbook, error) {
	if file == "-" {
		return commissioning.ParseLogbook(stdin)
	}
	f, err := openFile(file)
	if err != nil {
		return commissioning.Logbook{}, err
	}
	defer func() { _ = f.Close() }() // it was only read
	return commissioning.ParseLogbook(f)
}

// openFile opens a file that the person names; the error leaves out the name,
// which the caller puts in front.
func openFile(name string) (*os.File, error) {
	f, err := os.Open(name) //nolint:gosec // see above
	var path *fs.PathError
	if errors.As(err, &path) {
		return nil, path.Err
	}
	return f, err
}

// oneLine keeps a strange file name from breaking the line.
func oneLine(text string) string {
	if strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return strconv.Quote(text)
	}
	return text
}
