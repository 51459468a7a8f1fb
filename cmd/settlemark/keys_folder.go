package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"settlemark/internal/certificate"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// soon is how long before its end a certificate is spoken of in the log.
const soon = 60 * 24 * time.Hour

// keyFile is a site key with the file that holds it.
type keyFile struct {
	*certificate.Signer
	path string
}

// readSiteKeys reads the key that signs now, and behind it those of before,
// each in a file named by its fingerprint in the same folder.
func readSiteKeys(path string) ([]keyFile, error) {
	older, err := filepath.Glob(filepath.Join(filepath.Dir(path), "site-*.pem"))
	if err != nil {
		return nil, err
	}
	var all []keyFile
	for _, file := range append([]string{path}, older...) {
		pem, err := os.ReadFile(file) //nolint:gosec // the operator names the file
		if err != nil {
			return nil, err
		}
		signer, err := certificate.ReadSigner(pem)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		known := slices.ContainsFunc(all, func(k keyFile) bool { return k.Fingerprint() == signer.Fingerprint() })
		if !known { // one that signs again is kept twice
			all = append(all, keyFile{signer, file})
		}
	}
	return all, nil
}

// openSiteKeys reads the keys by which certificates are signed. A new
// installation gets one of its own; a file that SETTLEMARK_SITE_KEY names must be there.
func openSiteKeys(c config, log *slog.Logger, now time.Time) (certificate.Signers, error) {
	path := c.siteKeyPath()
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) && c.siteKey == "" {
		if err = makeSiteKey(path, c.log.Host, now); err == nil {
			log.Info("made a site key; back up its folder apart from the database", "file", path)
		}
	}
	if err != nil {
		return nil, keysRefused(path, err)
	}
	files, err := readSiteKeys(path)
	if err != nil {
		return nil, keysRefused(path, err)
	}
	if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o077 != 0 {
		log.Warn("others can read the site key: take that right away (chmod 600)", "file", path)
	}
	var signers certificate.Signers
	for _, f := range files {
		signers = append(signers, f.Signer)
	}
	return signers, nil
}

func keysRefused(path string, err error) error {
	return &problem.Error{Kind: problem.Invalid, Cause: err, Sentence: words.Say(
		"The site key in %s can't be read. Put the file back from its backup, or import another with settlemark keys import.", path)}
}

func makeSiteKey(path, host string, now time.Time) error {
	signer, err := certificate.NewSigner("Settlemark at "+host, now)
	if err != nil {
		return err
	}
	return writeKey(path, signer)
}

// writeKey puts a key into its place whole or not at all, for its owner's eyes.
func writeKey(path string, signer *certificate.Signer) error {
	pem, err := signer.PEM()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	draft, err := os.CreateTemp(filepath.Dir(path), ".site-key-*") // made with 0600
	if err != nil {
		return err
	}
	defer os.Remove(draft.Name()) //nolint:errcheck // gone once it has its name
	_, err = draft.Write(pem)
	if err := errors.Join(err, draft.Sync(), draft.Close()); err != nil {
		return err
	}
	if err := os.Rename(draft.Name(), path); err != nil {
		return err
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

// watchSiteKey says once a day when the certificate nears its end.
func watchSiteKey(ctx context.Context, signer *certificate.Signer, log *slog.Logger) {
	day := time.NewTicker(24 * time.Hour)
	defer day.Stop()
	for {
		if err := signer.ValidAt(time.Now().Add(soon)); err != nil {
			log.Warn("the certificate that signs ends soon, or has ended: import another with settlemark keys import", "cause", err.Error())
		}
		select {
		case <-ctx.Done():
			return
		case <-day.C:
		}
	}
}

func (c config) siteKeyPath() string {
	if c.siteKey != "" {
		return c.siteKey
	}
	return filepath.Join(c.data, "keys", "site.pem")
}
