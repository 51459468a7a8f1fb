// Package web is the HTTP side: the server with its limits, the table of
// routes, and what stands before every handler. It holds no page and no rule.
package web

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"settlemark/handlers"
	"settlemark/internal/metrics"
)

// Config says what the server trusts and how it is set up.
type Config struct {
	// Proxies whose X-Forwarded-For and X-Forwarded-Proto are believed; none by default.
	Proxies []netip.Prefix
	// NoWorker takes the service worker off every tablet.
	NoWorker bool
	// Metrics counts the requests; nil counts nothing.
	Metrics *metrics.Metrics
	// TLS serves https; nil serves http, for the machine itself or for a proxy.
	TLS *tls.Config
}

// Server serves the screens until Shutdown.
type Server struct {
	http  *http.Server
	fresh sync.Map // connections that were accepted, and of which nothing was read yet
}

// New makes a server over the screens.
func New(s *handlers.Screens, c Config) *Server {
	srv := within(Handler(s, c), s.Log)
	srv.http.TLSConfig = c.TLS
	srv.http.RegisterOnShutdown(s.Live.Close)
	return srv
}

// NewPlain makes a server beside the one of the site: see Plain; and for metrics.
func NewPlain(plain http.Handler, log *slog.Logger) *Server {
	return within(plain, log)
}

// within sets the limits that hold for every connection.
func within(h http.Handler, log *slog.Logger) *Server {
	s := &Server{}
	s.http = &http.Server{
		ConnState:         s.follow,
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      60 * time.Second, // streams set their own
		IdleTimeout:       120 * time.Second,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
	return s
}

func (s *Server) follow(c net.Conn, state http.ConnState) {
	if state == http.StateNew {
		s.fresh.Store(c, nil)
	} else {
		s.fresh.Delete(c)
	}
}

// Serve answers on the listener until Shutdown; it gives nil then.
func (s *Server) Serve(l net.Listener) error {
	serve := s.http.Serve
	if s.http.TLSConfig != nil {
		serve = func(l net.Listener) error { return s.http.ServeTLS(l, "", "") }
	}
	if err := serve(l); !errors.Is(err, http.ErrServerClosed) && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// Shutdown closes the listener, ends the streams and waits for the requests that are
// being answered. The library drops connections that were accepted and not read from
// yet, so those get a moment to ask first: where the socket outlives the program, no
// request is lost.
func (s *Server) Shutdown(ctx context.Context, l net.Listener) error {
	_ = l.Close() // the library closes it once more
	s.http.SetKeepAlivesEnabled(false)
	for quiet, looks := 0, 0; quiet < 2 && looks < 50 && ctx.Err() == nil; looks++ {
		time.Sleep(10 * time.Millisecond)
		quiet++
		s.fresh.Range(func(any, any) bool { quiet = 0; return false })
	}
	return s.http.Shutdown(ctx)
}
