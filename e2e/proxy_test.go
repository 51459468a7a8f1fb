package e2e_test

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strconv"
	"sync"
	"testing"
)

// between stands between tablets and the server, at an address of its own that
// stays when the server comes back at another.
type between struct {
	*httptest.Server
	mu     sync.Mutex
	to     *url.URL
	before func(http.ResponseWriter, *http.Request) bool // answers instead of the server when it says so
	after  func(*http.Response)                          // sees each answer
}

func standBetween(t *testing.T, to string) *between {
	t.Helper()
	p := &between{}
	p.leads(t, to)
	proxy := &httputil.ReverseProxy{
		Rewrite: func(r *httputil.ProxyRequest) {
			p.mu.Lock()
			defer p.mu.Unlock()
			r.SetURL(p.to)
			r.Out.Host = r.In.Host
		},
		ModifyResponse: func(r *http.Response) error {
			p.mu.Lock()
			after := p.after
			p.mu.Unlock()
			if after != nil {
				after(r)
			}
			return nil
		},
		ErrorHandler: func(http.ResponseWriter, *http.Request, error) { panic(http.ErrAbortHandler) },
	}
	p.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p.mu.Lock()
		before := p.before
		p.mu.Unlock()
		if before == nil || !before(w, r) {
			proxy.ServeHTTP(w, r)
		}
	}))
	t.Cleanup(p.Close)
	return p
}

func (p *between) leads(t *testing.T, to string) {
	t.Helper()
	address, err := url.Parse(to)
	if err != nil {
		t.Fatal(err)
	}
	p.mu.Lock()
	p.to = address
	p.mu.Unlock()
}

// does sets what happens before the server sees a request and after it answered.
func (p *between) does(before func(http.ResponseWriter, *http.Request) bool, after func(*http.Response)) {
	p.mu.Lock()
	p.before, p.after = before, after
	p.mu.Unlock()
}

// cut lets nothing through: connections break off.
func cut(http.ResponseWriter, *http.Request) bool { panic(http.ErrAbortHandler) }

// newerWorker makes the worker another one, as the next release does.
func newerWorker(r *http.Response) {
	if r.Request.URL.Path != "/sw.js" {
		return
	}
	text, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	text = bytes.Replace(text, []byte(`BUILD = "`), []byte(`BUILD = "next-`), 1)
	r.Body = io.NopCloser(bytes.NewReader(text))
	r.ContentLength = int64(len(text))
	r.Header.Set("Content-Length", strconv.Itoa(len(text)))
	r.Header.Del("ETag")
}
