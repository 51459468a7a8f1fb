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
// the instant of judgement in the files.
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
	at, files, err := evaluateArguments(args)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, file := range files {
		book, err := readLogbook(file, stdin)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		if at != nil {
			book.At = *at
		}
		out.Write(rules.Encode(rules.Judge(book, book.At)))
	}
	return out.Bytes(), nil
}

// evaluateArguments takes flags before, between and after the files.
func evaluateArguments(args []string) (at *time.Time, files []string, err error) {
	flags := flag.NewFlagSet("evaluate", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.Func("at", "judge at this instant", func(text string) error {
		instant, ok := commissioning.ParseInstant(text)
		if !ok {
			return errors.New("expected an RFC 3339 instant with an offset")
		}
		at = &instant
		return nil
	})
	for rest := args; len(rest) > 0; {
		if err := flags.Parse(rest); err != nil {
			return nil, nil, fmt.Errorf("evaluate: %w", err)
		}
		if rest = flags.Args(); len(rest) > 0 {
			files = append(files, rest[0])
			rest = rest[1:]
		}
	}
	if len(files) == 0 {
		return nil, nil, errors.New("usage: settlemark evaluate [--at INSTANT] FILE… (- is standard input)")
	}
	return at, files, nil
}

func readLogbook(file string, stdin io.Reader) (commissioning.Logbook, error) {
	if file == "-" {
		return commissioning.ParseLogbook(stdin)
	}
	f, err := os.Open(file) //nolint:gosec // the person names the file
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) {
			err = path.Err // the name stands in front already
		}
		return commissioning.Logbook{}, err
	}
	defer func() { _ = f.Close() }() // it was only read
	return commissioning.ParseLogbook(f)
}

// oneLine keeps a strange file name from breaking the line.
func oneLine(text string) string {
	if strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return strconv.Quote(text)
	}
	return text
}
