package trust

import (
	"crypto/tls"
	"log/slog"
	"sync"
	"time"
)

// Local shows certificates of an authority of the site's own, and has the next
// one issued before one ends. They are kept in memory only.
type Local struct {
	authority *Authority
	now       func() time.Time
	log       *slog.Logger

	mu    sync.Mutex
	shown *tls.Certificate
}

// NewLocal shows what the authority issues.
func NewLocal(a *Authority, now func() time.Time, log *slog.Logger) *Local {
	return &Local{authority: a, now: now, log: log}
}

// Show is a Showing.
func (l *Local) Show(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if l.shown != nil && (now.Add(renewBefore).Before(l.shown.Leaf.NotAfter) || l.last()) {
		return l.shown, nil
	}
	fresh, err := l.authority.Issue(now)
	if err != nil && l.shown != nil && now.Before(l.shown.Leaf.NotAfter) {
		l.log.Error("There is no new certificate for https; the one before stays until its end.", "cause", err.Error())
		return l.shown, nil
	}
	if err != nil {
		return nil, err
	}
	if l.shown = fresh; l.last() {
		l.log.Warn("The authority of this site ends: move its file away before, start again, and have every device install the new one.", "ends", fresh.Leaf.NotAfter.UTC().Format(time.RFC3339))
	}
	return fresh, nil
}

// last says that no later certificate can be had: the authority itself ends.
func (l *Local) last() bool { return l.shown.Leaf.NotAfter.Equal(l.authority.Certificate.NotAfter) }
