package trust

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// Files are a certificate and its key that somebody else renews. They are read
// anew when they change.
type Files struct {
	certificate, key, host string
	now                    func() time.Time
	log                    *slog.Logger

	mu    sync.Mutex
	shown *tls.Certificate
	seen  [2]os.FileInfo // of the files as they were last read
}

// OpenFiles reads the files, which must fit each other. One that browsers will
// refuse for the host is shown all the same, and said in the log.
func OpenFiles(certificate, key, host string, now func() time.Time, log *slog.Logger) (*Files, error) {
	f := &Files{certificate: certificate, key: key, host: host, now: now, log: log}
	var err error
	if f.seen, err = f.look(); err != nil {
		return nil, err
	}
	if f.shown, err = f.read(); err != nil {
		return nil, err
	}
	if err := fits(f.shown.Leaf, host, now()); err != nil {
		log.Warn("Browsers will refuse the certificate for https. Put one into its place that fits.", "file", certificate, "cause", err.Error())
	}
	if f.seen[1].Mode().Perm()&0o077 != 0 {
		log.Warn("Others can read the key of https: take that right away (chmod 600).", "file", key)
	}
	return f, nil
}

// Show is a Showing. A new file that does not fit is left alone.
func (f *Files) Show(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	now, err := f.look()
	if err != nil || same(now, f.seen) {
		return f.shown, nil //nolint:nilerr // a file that is away for a moment is being replaced; Watch speaks of the end
	}
	f.seen = now
	fresh, err := f.read()
	if err == nil {
		err = fits(fresh.Leaf, f.host, f.now())
	}
	if err != nil {
		f.log.Warn("The new certificate for https can't be used; the one before stays. Put a certificate and the key that belongs to it into their places.",
			"file", f.certificate, "cause", err.Error())
		return f.shown, nil
	}
	f.log.Info("took the new certificate for https", "file", f.certificate, "ends", fresh.Leaf.NotAfter.UTC().Format(time.RFC3339))
	f.shown = fresh
	return fresh, nil
}

func (f *Files) read() (*tls.Certificate, error) {
	c, err := tls.LoadX509KeyPair(f.certificate, f.key)
	if err != nil {
		return nil, fmt.Errorf("%s with %s: %w", f.certificate, f.key, err)
	}
	return &c, nil
}

func (f *Files) look() (seen [2]os.FileInfo, err error) {
	for i, path := range []string{f.certificate, f.key} {
		if seen[i], err = os.Stat(path); err != nil {
			return seen, err
		}
	}
	return seen, nil
}

func same(a, b [2]os.FileInfo) bool {
	for i := range a {
		if !os.SameFile(a[i], b[i]) || a[i].Size() != b[i].Size() || !a[i].ModTime().Equal(b[i].ModTime()) {
			return false
		}
	}
	return true
}
