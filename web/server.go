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
	"time"

	"settlemark/handlers"
)

// Config says what the server trusts and how it is set up.
type Config struct {
	// Proxies whose X-Forwarded-For and X-Forwarded-Proto are believed; none by default.
	Proxies []netip.Prefix
	// NoWorker takes the service worker off every tablet.
	NoWorker bool
	// TLS serves https; nil serves http, for the machine itself or for a proxy.
	TLS *tls.Config
}

// Server serves the screens until Shutdown.
type Server struct {
	http *http.Server
}

// New makes a server over the screens.
func New(s *handlers.Screens, c Config) *Server {
	srv := within(Handler(s, c), s.Log)
	srv.TLSConfig = c.TLS
	srv.RegisterOnShutdown(s.Live.Close)
	return &Server{http: srv}
}

// NewPlain makes the server beside one of https: see Plain.
func NewPlain(plain http.Handler, log *slog.Logger) *Server {
	return &Server{http: within(plain, log)}
}

// within sets the limits that hold for every connection.
func within(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      60 * time.Second, // streams set their own
		IdleTimeout:       120 * time.Second,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
}

// Serve answers on the listener until Shutdown; it gives nil then.
func (s *Server) Serve(l net.Listener) error {
	serve := s.http.Serve
	if s.http.TLSConfig != nil {
		serve = func(l net.Listener) error { return s.http.ServeTLS(l, "", "") }
	}
	if err := serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Shutdown ends the streams and waits for the requests that are being answered.
func (s *Server) Shutdown(ctx context.Context) error { return s.http.Shutdown(ctx) }
