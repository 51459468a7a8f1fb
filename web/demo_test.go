package web_test

import (
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/handlers"
	"settlemark/internal/act"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/demo"
	"settlemark/web"
	"settlemark/web/live"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// The demo is loaded once; what changes it comes last.
func TestDemo(t *testing.T) {
	s := demoSite(t)
	t.Run("board", s.boarded)
	t.Run("certificates", s.certificates)
	t.Run("logbook export", s.exported)
	t.Run("after release", s.afterRelease)
	t.Run("signatures", s.manifest)
	t.Run("a changed record", s.changedRecord)
	t.Run("every route as every role in every state", s.permitted)
	t.Run("addresses of another site", s.otherSite)
	t.Run("withdraw", s.withdrawn)
	t.Run("review", s.reviewed)
	t.Run("verify", s.verified)
}

// demoSite is the app over the demo scenario: runs and certificates in every state.
func demoSite(t *testing.T) *site {
	t.Helper()
	s := &site{t: t, db: dbtest.New(t), log: &strings.Builder{}}
	log := slog.New(slog.NewJSONHandler(&locked{w: s.log}, nil))
	s.acts = act.New(s.db.DB, log, authtest.Secrets())
	_, err := demo.Load(t.Context(), s.acts, s.db.DB, time.Now())
	s.must(err)
	s.screens = &handlers.Screens{DB: s.db.DB, Acts: s.acts, Sessions: session.New(s.db.DB, respond.Unforeseen), Now: time.Now, Log: log, Demo: true}
	s.screens.Live = live.New(live.Renderers{Run: s.screens.RunPieces, Board: s.screens.BoardPieces, Hall: s.screens.HallPieces}, time.Now, log)
	s.server = httptest.NewTLSServer(web.Handler(s.screens, web.Config{}))
	t.Cleanup(func() { s.secrets.unlogged(t, s.log.String()) })
	t.Cleanup(s.server.Close)
	t.Cleanup(s.screens.Live.Close)
	return s
}

func (s *site) demoCode() string { return s.codeOf(demo.Everybody().Seed) }

// demoAs signs somebody of the demo in, each person once: tries are counted.
func (s *site) demoAs(login string) *browser {
	s.t.Helper()
	if b := s.signed[login]; b != nil {
		return b
	}
	b := s.browser()
	a := b.post("/sign-in", "login", login, "password", demo.Everybody().Password, "code", s.demoCode(), "then", "/account")
	if a.status != 303 {
		s.t.Fatalf("%s can't sign in: %d %s", login, a.status, a.text())
	}
	if s.signed == nil {
		s.signed = map[string]*browser{}
	}
	s.signed[login] = b
	return b
}
