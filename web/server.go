// Package web is the HTTP side: the server with its limits, the table of
// routes, and what stands before every handler. It holds no page and no rule.
package web

import (
	"context"
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
}

// Server serves the screens until Shutdown.
type Server struct {
	http *http.Server
}

// New makes a server over the screens.
func New(s *handlers.Screens, c Config) *Server {
	srv := &http.Server{
		Handler:           Handler(s, c),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      60 * time.Second, // streams set their own
		IdleTimeout:       120 * time.Second,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(s.Log.Handler(), slog.LevelWarn),
	}
	srv.RegisterOnShutdown(s.Live.Close)
	return &Server{http: srv}
}

// Serve answers on the listener until Shutdown; it gives nil then.
func (s *Server) Serve(l net.Listener) error {
	if err := s.http.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Shutdown ends the streams and waits for the requests that are being answered.
func (s *Server) Shutdown(ctx context.Context) error { return s.http.Shutdown(ctx) }
