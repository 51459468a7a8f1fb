package web

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/metrics"
	"settlemark/web/respond"
	"settlemark/web/session"
)

const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; " +
	"connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"

// headers stand on every answer, whatever made it.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("Cache-Control", "no-store") // assets and certificates say otherwise
		if len(r.TransferEncoding) > 0 {
			// Perhaps there was a length beside the chunks: a program in front may have cut them apart otherwise.
			h.Set("Connection", "close")
		}
		if r.TLS != nil { // a proxy says it for itself
			h.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
		}
		next.ServeHTTP(w, r)
	})
}

// throughProxies believes the forwarding headers of the proxies it is given.
func throughProxies(proxies []netip.Prefix) func(http.Handler) http.Handler {
	if len(proxies) == 0 {
		return middleware.ClientIPFromRemoteAddr
	}
	trusted := make([]string, len(proxies))
	for i, p := range proxies {
		trusted[i] = p.String()
	}
	address := middleware.ClientIPFromXFF(trusted...)
	return func(next http.Handler) http.Handler {
		return address(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Header.Get("X-Forwarded-Proto") == "https" && comesFrom(r, proxies) {
				r = r.WithContext(session.OverTLS(r.Context()))
			}
			next.ServeHTTP(w, r)
		}))
	}
}

func comesFrom(r *http.Request, proxies []netip.Prefix) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return false
	}
	address, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	for _, p := range proxies {
		if p.Contains(address.Unmap()) {
			return true
		}
	}
	return false
}

// logged writes one line per request, without query, form or cookie, and counts it.
func logged(log *slog.Logger, m *metrics.Metrics, now func() time.Time) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			began, ww := now(), middleware.NewWrapResponseWriter(w, r.ProtoMajor)
			next.ServeHTTP(ww, r)
			log.Info("request", "request", middleware.GetReqID(r.Context()), "method", r.Method, "path", r.URL.Path,
				"status", ww.Status(), "bytes", ww.BytesWritten(), "ms", now().Sub(began).Milliseconds(),
				"from", middleware.GetClientIP(r.Context()))
			if m != nil {
				m.Request(counted(r), chi.RouteContext(r.Context()).RoutePattern(), ww.Status(), now().Sub(began))
			}
		})
	}
}

// counted is the method, when it is one that a route could have: strangers must not
// make up as many as they like.
func counted(r *http.Request) string {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost:
		return r.Method
	}
	return "other"
}

// recovered answers a panic with 500 and a reference; the log has the stack.
func recovered(log *slog.Logger) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			defer func() {
				cause := recover()
				if cause == nil {
					return
				}
				if err, ok := cause.(error); ok && errors.Is(err, http.ErrAbortHandler) {
					panic(cause)
				}
				log.Error("panic", "request", middleware.GetReqID(r.Context()), "stack", string(debug.Stack()))
				respond.Unforeseen(w, r, fmt.Errorf("panic: %v", cause))
			}()
			next.ServeHTTP(w, r)
		})
	}
}

// signedIn lets only people through who are signed in, and whose screen is not
// locked where that counts.
func signedIn(evenLocked bool, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		_, in := session.Current(r)
		switch locked := session.Locked(r) && !evenLocked; {
		case in && !locked:
			next(w, r)
		case r.Header.Get("Settlemark-Tablet") != "": // its script keeps what it sends until somebody is in again
			w.WriteHeader(http.StatusUnauthorized)
		case locked:
			respond.UnlockFirst(w, r)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			respond.SignInEnded(w, r)
		default:
			respond.SignInFirst(w, r)
		}
	}
}

// limited refuses bodies above the route's limit, and gives large ones the time
// that they take over poor Wi-Fi.
func limited(most int64, now func() time.Time, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, most)
		if most > formLimit {
			control, end := http.NewResponseController(w), now().Add(uploadTimeout)
			if err := errors.Join(control.SetReadDeadline(end), control.SetWriteDeadline(end)); err != nil {
				respond.Unforeseen(w, r, err)
				return
			}
		}
		next(w, r)
	}
}

// sameSite refuses what another site's page sends.
func sameSite(next http.Handler) http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(respond.OtherSite))
	return guard.Handler(next)
}
