package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/term"

	"settlemark/internal/certificate"
	"settlemark/internal/ledger"
	"settlemark/internal/trust"
)

const keysUsage = "usage: settlemark keys show, or settlemark keys import FILE (a private key with its certificate, PEM or PKCS#12)"

// keys shows the site's keys, or takes in another one. The server reads them
// when it starts.
func keys(_ context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	c, err := readConfig(os.Getenv)
	switch {
	case err != nil:
	case len(args) == 1 && args[0] == "show":
		err = showKeys(c, time.Now(), stdout)
	case len(args) == 2 && args[0] == "import":
		err = importKey(c.siteKeyPath(), args[1], time.Now(), stdin, stdout, stderr)
	default:
		say(stderr, keysUsage)
		return 2
	}
	if err != nil {
		say(stderr, "settlemark: %v", err)
		return 1
	}
	return 0
}

func showKeys(c config, now time.Time, stdout io.Writer) error {
	files, err := readSiteKeys(c.siteKeyPath())
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: it is made when the server first starts, or by settlemark keys import", err)
	}
	if err != nil {
		return err
	}
	for i, f := range files {
		what := "signs new certificates"
		if i > 0 {
			what = "kept: signed certificates before"
		}
		own := f.Certificate()
		issuer := own.Issuer.String()
		if bytes.Equal(own.RawIssuer, own.RawSubject) {
			issuer = "itself"
		}
		say(stdout, "site key     %s", what)
		say(stdout, "  file       %s", f.path)
		say(stdout, "  name       %s, issued by %s", own.Subject, issuer)
		say(stdout, "  SHA-256    %s", f.Fingerprint())
		say(stdout, "  valid      %s to %s, %s", own.NotBefore.UTC().Format(time.DateOnly), own.NotAfter.UTC().Format(time.DateOnly), left(own.NotAfter, now))
	}
	if c.https.way == "local" {
		if err := showAuthority(c, now, stdout); err != nil {
			return err
		}
	}
	return showLogKey(c.log.Key, stdout)
}

// showAuthority prints what devices must show before it is installed on them.
func showAuthority(c config, now time.Time, stdout io.Writer) error {
	a, err := trust.ReadAuthority(c.authorityPath())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	own := a.Certificate
	say(stdout, "authority    vouches for https; devices install it")
	say(stdout, "  file       %s", c.authorityPath())
	say(stdout, "  name       %s", own.Subject.CommonName)
	say(stdout, "  SHA-256    %s", trust.Fingerprint(own))
	say(stdout, "  valid      %s to %s, %s", own.NotBefore.UTC().Format(time.DateOnly), own.NotAfter.UTC().Format(time.DateOnly), left(own.NotAfter, now))
	return nil
}

// showLogKey names the log's public key where this machine has the private one.
func showLogKey(path string, stdout io.Writer) error {
	text, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, private := range strings.Fields(string(text)) {
		vkey, err := ledger.VerifierKey(private)
		if err != nil {
			return fmt.Errorf("%s: it is no key of a log", path)
		}
		say(stdout, "log key      seals the log")
		say(stdout, "  file       %s", path)
		say(stdout, "  public     %s", vkey)
	}
	return nil
}

func left(end, now time.Time) string {
	days := int(end.Sub(now).Hours() / 24)
	if now.After(end) {
		return "ended"
	}
	return fmt.Sprintf("%d days left", days)
}

// importKey puts a new key into place and keeps the one before under its
// fingerprint: certificates that name it may still wait for their file.
func importKey(path, file string, now time.Time, stdin io.Reader, stdout, stderr io.Writer) error {
	signer, err := readForeignKey(file, stdin, stderr)
	if err == nil {
		err = signer.ValidAt(now)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	before, err := readSiteKeys(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if len(before) > 0 {
		if before[0].Fingerprint() == signer.Fingerprint() {
			return fmt.Errorf("%s: that key signs already", file)
		}
		kept := filepath.Join(filepath.Dir(path), "site-"+before[0].Fingerprint()+".pem")
		if err := writeKey(kept, before[0].Signer); err != nil {
			return err
		}
	}
	if err := writeKey(path, signer); err != nil {
		return err
	}
	say(stdout, "imported %s, SHA-256 %s", signer.Certificate().Subject, signer.Fingerprint())
	say(stdout, "start the server anew to sign with it, and back up %s", filepath.Dir(path))
	return nil
}

func readForeignKey(path string, stdin io.Reader, stderr io.Writer) (*certificate.Signer, error) {
	file, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	if err != nil {
		return nil, err
	}
	if bytes.Contains(file, []byte("-----BEGIN ")) {
		return certificate.ReadSigner(file)
	}
	signer, err := certificate.ReadPKCS12(file, "")
	if !errors.Is(err, certificate.ErrPassword) {
		return signer, err
	}
	password, err := askPassword(stdin, stderr)
	if err != nil {
		return nil, err
	}
	return certificate.ReadPKCS12(file, password)
}

// askPassword reads one line, unseen where it is typed.
func askPassword(stdin io.Reader, stderr io.Writer) (string, error) {
	_, _ = fmt.Fprint(stderr, "Password of the file: ")
	if f, ok := stdin.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		typed, err := term.ReadPassword(int(f.Fd()))
		say(stderr, "")
		return string(typed), err
	}
	line, err := bufio.NewReader(stdin).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", err
	}
	return strings.TrimRight(line, "\r\n"), nil
}
