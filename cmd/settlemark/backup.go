package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/backup"
	"settlemark/internal/fsck"
	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
)

const backupUsage = "usage: settlemark backup FILE [--key FILE] [--replace]"

// makeBackup writes the whole record into one file, also while the program
// serves from it.
func makeBackup(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("backup", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	key := flags.String("key", "", "encrypt with the public keys, the private key or the passphrase of this file")
	replace := flags.Bool("replace", false, "replace a file of that name")
	files, err := filesAmong(flags, args)
	if err != nil || len(files) != 1 {
		say(stderr, backupUsage)
		return 2
	}
	if err := backUp(ctx, files[0], *key, *replace, stdout, stderr); err != nil {
		complain(stderr, err)
		return 1
	}
	return 0
}

// complain says on one line why a subcommand could not do what was asked.
func complain(stderr io.Writer, err error) {
	var refusal *problem.Error
	if errors.As(err, &refusal) && !refusal.Sentence.Empty() {
		say(stderr, "settlemark: %s", refusal.Sentence)
		return
	}
	say(stderr, "settlemark: %s", oneLine(err.Error()))
}

func backUp(ctx context.Context, path, key string, replace bool, stdout, stderr io.Writer) error {
	c, err := readConfig(os.Getenv)
	if err != nil {
		return err
	}
	file, err := backupFile(path, key)
	if err != nil {
		return err
	}
	log := quietLog(stderr)
	address, leave, err := ownersAddress(ctx, c, log)
	if err != nil {
		return err
	}
	defer leave()
	d, err := db.Open(ctx, address, log)
	if err != nil {
		return badAddress(err)
	}
	defer d.Close()
	begun := time.Now()
	m, size, err := file.Create(ctx, d, address, replace)
	if err != nil {
		return err
	}
	say(stdout, "backup   %s, %d bytes, in %d ms", path, size, time.Since(begun).Milliseconds())
	say(stdout, "holds    %d rows of %d tables, as of %s", m.Total(), len(m.Rows), m.At.UTC().Format(time.RFC3339))
	say(stdout, "log      %s", backup.LogLine(m.Checkpoint))
	if key == "" {
		say(stdout, "note     It is not encrypted. Keep it where only those may read who may read the whole record.")
	}
	say(stdout, "note     Keys are not inside. Copy %s to another place.", filepath.Dir(c.log.Key))
	return nil
}

func quietLog(stderr io.Writer) *slog.Logger {
	return slog.New(slog.NewJSONHandler(stderr, &slog.HandlerOptions{Level: slog.LevelError}))
}

func backupFile(path, key string) (f backup.File, err error) {
	f.Path = path
	if key != "" {
		f.Key, err = backup.ReadKey(key)
	}
	return f, err
}

// ownersAddress gives the address of the login that owns the tables. A private
// server that does not run is started until leave.
func ownersAddress(ctx context.Context, c config, log *slog.Logger) (address string, leave func(), err error) {
	if c.privateSrv {
		server, err := privatepg.Reach(ctx, c.data, log)
		if err != nil {
			return "", nil, err
		}
		return server.OwnerURL(), server.Close, nil
	}
	if c.ownerURL == "" {
		return "", nil, problem.New(problem.Invalid, "Set DATABASE_OWNER_URL: only the login that owns the tables can read all of them for a backup, or restore them.")
	}
	return c.ownerURL, func() {}, nil
}

// restore reads a backup into an empty database and checks all of it.
func restore(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("restore", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	key := flags.String("key", "", "the private key or the passphrase of this file opens the backup")
	policy := flags.String("policy", "", "whose logs to believe")
	files, err := filesAmong(flags, args)
	if err != nil || len(files) != 1 {
		say(stderr, "usage: settlemark restore FILE [--key FILE] [--policy FILE]")
		return 2
	}
	faults, err := putBack(ctx, files[0], *key, *policy, stdout, stderr)
	if err != nil {
		complain(stderr, err)
		return 1
	}
	if faults > 0 {
		say(stdout, "NOT SOUND: %d faults. What was restored stays for you to look at; do not work with it before quality has decided.", faults)
		return 1
	}
	say(stdout, "done")
	return 0
}

func putBack(ctx context.Context, path, key, policy string, stdout, stderr io.Writer) (faults int, err error) {
	c, err := readConfig(os.Getenv)
	if err != nil {
		return 0, err
	}
	file, err := backupFile(path, key)
	if err != nil {
		return 0, err
	}
	outside, err := outsidePolicy(policy)
	if err != nil {
		return 0, err
	}
	m, err := file.Check() // before a database is made for it
	if err != nil {
		return 0, err
	}
	log := quietLog(stderr)
	target, leave, err := restoreTarget(ctx, c, log)
	if err != nil {
		return 0, err
	}
	defer leave()
	begun := time.Now()
	r, err := file.Restore(ctx, m, target, fsck.Outside{Policy: outside}, log)
	if err != nil {
		return 0, err
	}
	for _, fault := range r.Faults {
		say(stdout, "%s", oneLine(fault))
	}
	say(stdout, "restored %d rows of %d tables, as of %s, in %d ms", r.Manifest.Total(), len(r.Manifest.Rows),
		r.Manifest.At.UTC().Format(time.RFC3339), time.Since(begun).Milliseconds())
	say(stdout, "checked  %d runs, %d entries, %d rows of evidence, %d leaves of the log", r.Record.Runs, r.Record.Entries, r.Record.Rows, r.Record.Leaves)
	say(stdout, "log      %s", backup.LogLine(r.Manifest.Checkpoint))
	for _, key := range []string{secretsFile(c.data), c.siteKeyPath(), c.log.Key} {
		if _, err := os.Stat(key); errors.Is(err, fs.ErrNotExist) {
			say(stdout, "note     %s is not there. Put it back from its copy before the server starts: it would make another one.", key)
		}
	}
	return len(r.Faults), sayWhetherSealing(ctx, c, target.Address, log, stdout)
}

// sayWhetherSealing stops the log where the backup is older than what was signed.
func sayWhetherSealing(ctx context.Context, c config, address string, log *slog.Logger, stdout io.Writer) error {
	d, err := db.Open(ctx, address, log)
	if err != nil {
		return err
	}
	defer d.Close()
	nobody, err := auth.ReadSecrets(auth.NewSecret()) // nobody signs in here, and the site's own is not to be made by accident
	if err != nil {
		return err
	}
	acts := act.New(d, log, nobody)
	acts.Log = c.log
	why, err := acts.AfterRestore(ctx, time.Now())
	if err != nil || why == "" {
		return err
	}
	say(stdout, "%s", oneLine(why))
	say(stdout, "next     Look for a newer backup. If there is none: settlemark log-epoch new --reason REASON")
	return nil
}

// restoreTarget is where a backup goes: the private server, made where there is
// none, or the database of the environment.
func restoreTarget(ctx context.Context, c config, log *slog.Logger) (t backup.Target, leave func(), err error) {
	if !c.privateSrv {
		t.Serving, err = loginOf(c.appURL)
		if err == nil {
			t.Address, leave, err = ownersAddress(ctx, c, log)
		}
		return t, leave, err
	}
	server, err := privatepg.Start(ctx, c.data, log)
	if err != nil {
		return t, nil, err
	}
	serving, err := loginOf(server.AppURL())
	return backup.Target{Address: server.OwnerURL(), Serving: serving}, server.Close, err
}

// outsidePolicy reads the policy that was kept elsewhere, if one is named.
func outsidePolicy(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	text, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	return strings.TrimSpace(string(text)) + "\n", err
}
