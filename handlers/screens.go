// Package handlers answers the pages: each file is one action or one page that
// decodes the request, calls one act or one read, and renders. What is allowed
// is decided in internal/commissioning and internal/act; nothing here writes to
// the database.
package handlers

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/provider"
	"settlemark/internal/trust"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/live"
	"settlemark/web/session"
)

// Screens carries what the pages need.
type Screens struct {
	DB       *db.DB
	Acts     *act.Acts
	Live     *live.Hub // set by the wiring once the renderers exist
	Check    CheckFile // of strangers' files, in a process of their own
	Sessions *session.Sessions
	Now      func() time.Time
	Log      *slog.Logger
	Demo     bool // the database holds the demo: every page says so
	Weak     bool // what is acknowledged may be lost in a crash: every page says so

	DemoSeed  []byte // of everybody's authenticator app in the demo, so that pages can show the code; nil elsewhere
	PublicURL string // the site's own address, "" when it is not set
	Data      string // folder on whose disk there must be room, "" for none

	Provider *provider.Provider // through which people sign in, nil where there is none

	// TryMail sends an e-mail to see whether it arrives; nil where there is no mail server.
	TryMail func(ctx context.Context, id, to string, in words.Language) error

	// Receivers of webhooks that the operator's file names; TryWebhook delivers a
	// test to one and gives the status with which it did not take it, else 0.
	Receivers  []templates.Receiver
	TryWebhook func(ctx context.Context, id, target string, at time.Time) (status int, err error)

	Authority *trust.Authority // of the site's own, for devices to install; nil where there is none
}

// watcher is the screen that asks for a stream: it may watch while its reader
// is signed in.
func (s *Screens) watcher(r *http.Request) live.Watcher {
	return live.Watcher{
		Session: session.Device(r),
		Still:   func(ctx context.Context) bool { return s.Sessions.Still(ctx, r, s.Now()) },
	}
}
