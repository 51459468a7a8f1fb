package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// openSecrets reads the key file of passwords and seeds, and makes it while
// nothing was sealed with one. Without it nobody can sign in any more, so it is
// backed up, apart from the database, and a new one never takes its place.
func openSecrets(ctx context.Context, data string, d *db.DB) (*auth.Secrets, error) {
	path := secretsFile(data)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, keyProblem(path, err)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		sealed, err := d.SealedSecrets(ctx)
		if err != nil {
			return nil, err
		}
		if sealed {
			return nil, problem.New(problem.Conflict,
				"The key file %s is missing, and passwords and codes of this database were made with it. Bring it back from its backup and start again. If there is no copy anywhere, settlemark new-secrets says what is left to do.", path)
		}
	}
	if err := makeOnce(path, auth.NewSecret()); err != nil {
		return nil, keyProblem(path, err)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, keyProblem(path, err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, problem.New(problem.Forbidden, "Others can read the key file %s. Take their rights from it (chmod 600) and start again.", path)
	}
	text, err := os.ReadFile(path) //nolint:gosec // the operator's own folder
	if err != nil {
		return nil, keyProblem(path, err)
	}
	secrets, err := auth.ReadSecrets(string(text))
	if err != nil {
		return nil, keyProblem(path, err)
	}
	return secrets, nil
}

func secretsFile(data string) string { return filepath.Join(data, "keys", "secrets.key") }

// makeOnce writes a file that nobody else can read, unless it is there. Two
// programs that start at once agree on one of them.
func makeOnce(path, text string) error {
	if _, err := os.Stat(path); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	file, err := os.CreateTemp(filepath.Dir(path), "new-*")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name()) //nolint:errcheck // gone, or a second name of the file that counts
	if _, err := file.WriteString(text); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return err
	}
	if err := os.Link(file.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

func keyProblem(path string, cause error) error {
	return &problem.Error{
		Kind: problem.Invalid, Cause: fmt.Errorf("key file: %w", cause),
		Sentence: words.Say("The key file %s can't be read or made. See that the folder belongs to this user, or bring the file back from its backup.", path),
	}
}
