// Command settlemark is the program: one file a subcommand, with flags,
// environment, wiring and the clock. It decides nothing itself.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// command runs one subcommand and gives its exit status.
type command func(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int

var commands = map[string]command{
	"backup":        makeBackup,
	"doctor":        lookOver,
	"erase-name":    eraseName,
	"evaluate":      evaluate,
	"export-log":    exportLog,
	"feed":          feedReadings,
	"fsck":          runFsck,
	"healthz":       healthz,
	"keys":          keys,
	"log-epoch":     logEpoch,
	"log-key":       logKey,
	"new-secrets":   newSecrets,
	"restore":       restore,
	"restore-drill": restoreDrill,
	"serve":         serve,
	"simulate":      simulate,
	"verify":        verify,
	"witness":       serveWitness,
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// run picks the subcommand; without one the program serves.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	name := "serve"
	if len(args) > 0 {
		name, args = args[0], args[1:]
	}
	do, ok := commands[name]
	if !ok {
		say(stderr, "settlemark: no command %q", name)
		return 2
	}
	return do(ctx, args, stdin, stdout, stderr)
}

// say writes one line; nobody is left to tell when that fails.
func say(w io.Writer, format string, args ...any) {
	_, _ = fmt.Fprintf(w, format+"\n", args...)
}
