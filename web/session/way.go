package session

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"strings"
)

// Transport is how a request came.
type Transport int

const (
	// Plain http over a network: nobody may sign in.
	Plain Transport = iota
	// Loopback http: the browser runs on the same machine.
	Loopback
	// TLS, ours or that of a proxy that is trusted.
	TLS
)

// WhyNot is the sentence that the sign-in page shows over plain http.
const WhyNot = "You can't sign in here, because this address is not encrypted and your password could be read on the way: open Settlemark by its https address, or on the machine itself by http://localhost."

type tlsKey struct{}

// OverTLS marks a request that a trusted proxy took over https.
func OverTLS(ctx context.Context) context.Context {
	return context.WithValue(ctx, tlsKey{}, true)
}

// Way says how the request came. Forwarding headers prove nothing by
// themselves; but a request that carries them came through somebody, so it is
// not from this machine, whatever its Host says.
func Way(r *http.Request) Transport {
	if r.TLS != nil || r.Context().Value(tlsKey{}) != nil {
		return TLS
	}
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return Plain
		}
	}
	host := r.Host
	if h, _, err := net.SplitHostPort(r.Host); err == nil {
		host = h
	}
	host = strings.Trim(host, "[]")
	if address, err := netip.ParseAddr(host); host == "localhost" || err == nil && address.IsLoopback() {
		return Loopback
	}
	return Plain
}
