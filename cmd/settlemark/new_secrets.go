package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
)

const newSecretsUsage = "usage: settlemark new-secrets --administrator LOGIN --void" //nolint:gosec // no credential

const newSecretsWarning = "This voids the password and the authenticator app of everybody, and can't be taken back: nobody signs in with them again, even if the key file is found. " +
	"Passkeys, recovery codes and all that was signed stay. Look for a copy of the key file first. To go on, stop the server and add --void."

// newSecrets puts a new key file in place of one that is lost for good.
func newSecrets(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("new-secrets", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	login := flags.String("administrator", "", "who gets a one-time code")
	void := flags.Bool("void", false, "void every password and authenticator app")
	if flags.Parse(args) != nil || flags.NArg() > 0 || *login == "" {
		say(stderr, newSecretsUsage)
		return 2
	}
	if !*void {
		say(stderr, newSecretsWarning)
		return 2
	}
	return withRecord(ctx, stderr, 1, func(s *store, acts *act.Acts, c config) (int, error) {
		path := secretsFile(c.data)
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			return 0, problem.New(problem.Conflict, "There is a key file, %s, and nothing was changed. If it is not the right one, move it away first.", path)
		}
		if s.private == nil && os.Getenv("DATABASE_URL") == "" {
			return 0, problem.New(problem.Conflict, "The server runs, and nothing was changed. Stop it first.")
		}
		concerned, code, err := acts.VoidSecrets(ctx, *login, time.Now())
		if err != nil {
			return 0, err
		}
		// The code is said first: a file can be made again, the code can't.
		say(stdout, "People whose password or authenticator app is void now: %d", len(concerned))
		say(stdout, "Start the server. %s begins anew under %s%s with the one-time code %s", *login, c.publicURL, urls.InvitePattern, code)
		say(stdout, "and makes one-time codes for the others, under People.")
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), makeOnce(path, auth.NewSecret())); err != nil {
			return 0, keyProblem(path, err)
		}
		say(stdout, "The new key file is %s: copy it to another place now.", path)
		return 0, nil
	})
}
