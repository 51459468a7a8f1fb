package main

import (
	"errors"
	"net"
	"net/url"
	"path/filepath"
	"strings"
)

// https says by which certificates the program serves https itself; the zero
// value is none.
type https struct {
	way       string   // SETTLEMARK_TLS: "local" or "acme"; "files" with the next two; "" for http
	cert, key string   // SETTLEMARK_TLS_CERT, SETTLEMARK_TLS_KEY
	host      string   // of SETTLEMARK_URL
	hosts     []string // and those of SETTLEMARK_TLS_NAMES
	plain     string   // SETTLEMARK_HTTP_LISTEN: leads from http to https
}

func readHTTPS(env func(string) string, publicURL string) (https, error) {
	h := https{way: env("SETTLEMARK_TLS"), cert: env("SETTLEMARK_TLS_CERT"), key: env("SETTLEMARK_TLS_KEY"), plain: env("SETTLEMARK_HTTP_LISTEN")}
	files := h.cert != "" || h.key != ""
	more := strings.FieldsFunc(env("SETTLEMARK_TLS_NAMES"), func(r rune) bool { return r == ',' || r == ' ' })
	switch {
	case (h.cert == "") != (h.key == ""):
		return h, errors.New("SETTLEMARK_TLS_CERT and SETTLEMARK_TLS_KEY go together: set both, or neither")
	case files && h.way != "":
		return h, errors.New("SETTLEMARK_TLS is set, and SETTLEMARK_TLS_CERT too: choose one")
	case h.way != "" && h.way != "local" && h.way != "acme":
		return h, errors.New("SETTLEMARK_TLS is local or acme, or not set")
	case len(more) > 0 && h.way != "local":
		return h, errors.New("SETTLEMARK_TLS_NAMES is for SETTLEMARK_TLS=local only")
	case files:
		h.way = "files"
	case h.way == "" && h.plain != "":
		return h, errors.New("SETTLEMARK_HTTP_LISTEN leads from http to https, and there is no https: set SETTLEMARK_TLS or SETTLEMARK_TLS_CERT too")
	case h.way == "":
		return h, nil
	}
	site, err := url.Parse(publicURL)
	if err != nil || site.Scheme != "https" || site.Hostname() == "" {
		return h, errors.New("SETTLEMARK_URL names no https address: with https it must be the one that people open, such as https://settlemark.example")
	}
	h.host = site.Hostname()
	h.hosts = append([]string{h.host}, more...)
	if h.way == "acme" && (net.ParseIP(h.host) != nil || !strings.Contains(h.host, ".")) {
		return h, errors.New("SETTLEMARK_TLS=acme needs a public name in SETTLEMARK_URL, not an address")
	}
	return h, nil
}

// authorityPath is where the site's own authority lies.
func (c config) authorityPath() string { return filepath.Join(c.data, "keys", "authority.pem") }
