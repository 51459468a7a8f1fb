package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"
)

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func TestServeHTTPS(t *testing.T) {
	secure, plain := freeAddress(t), freeAddress(t)
	_, port, _ := net.SplitHostPort(secure)
	for name, value := range map[string]string{
		"SETTLEMARK_DATA": serverFolder(t), "SETTLEMARK_LISTEN": secure, "SETTLEMARK_HTTP_LISTEN": plain, "SETTLEMARK_DEMO": "0",
		"SETTLEMARK_TLS": "local", "SETTLEMARK_URL": "https://settlemark.brackenhill.example:" + port, "DATABASE_URL": "", "DATABASE_OWNER_URL": "",
	} {
		t.Setenv(name, value)
	}
	s := serveHere(t)
	defer s.end()
	client := overHTTPS(t, plain, secure)
	t.Run("a_device_with_the_authority_is_served_over_http_2", func(t *testing.T) {
		a, err := client.Get(s.base + "/sign-in")
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		page, _ := io.ReadAll(a.Body)
		if a.ProtoMajor != 2 || a.StatusCode != http.StatusOK || a.Header.Get("Strict-Transport-Security") != "max-age=31536000; includeSubDomains" || !strings.Contains(string(page), "password") {
			t.Errorf("%s %s %q", a.Proto, a.Status, a.Header.Get("Strict-Transport-Security"))
		}
	})
	t.Run("one_without_it_is_not", func(t *testing.T) {
		if _, err := tls.Dial("tcp", secure, &tls.Config{RootCAs: x509.NewCertPool(), ServerName: "settlemark.brackenhill.example"}); err == nil {
			t.Error("it is")
		}
	})
	t.Run("prints_the_fingerprint_that_keys_show_prints", func(t *testing.T) {
		found := regexp.MustCompile(`must be ([0-9A-F:]{95})`).FindStringSubmatch(s.opening)
		var out strings.Builder
		if status := keys(t.Context(), []string{"show"}, nil, &out, t.Output()); status != 0 || found == nil || !strings.Contains(out.String(), found[1]) {
			t.Errorf("%d: %s\n%s", status, s.opening, out.String())
		}
	})
	t.Run("healthz_asks_over_https", func(t *testing.T) {
		var out strings.Builder
		if status := healthz(t.Context(), nil, nil, &out, t.Output()); status != 0 || out.String() != "ok\n" {
			t.Errorf("%d %s", status, out.String())
		}
	})
	t.Run("openssl_gets_in_with_1_2_and_not_with_1_1", func(t *testing.T) {
		for version, in := range map[string]bool{"-tls1_1": false, "-tls1_2": true, "-tls1_3": true} {
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
			out, err := exec.CommandContext(ctx, "openssl", "s_client", "-connect", secure, version, "-cipher", "DEFAULT:@SECLEVEL=0").CombinedOutput()
			cancel()
			if (err == nil) != in {
				t.Errorf("%s: %v\n%s", version, err, out)
			}
		}
	})
}

// overHTTPS is a device that has installed the authority it got at /trust.
func overHTTPS(t *testing.T, plain, secure string) *http.Client {
	t.Helper()
	a, err := http.Get("http://" + plain + "/trust/settlemark-authority.pem")
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	roots := x509.NewCertPool()
	if err != nil || !roots.AppendCertsFromPEM(text) {
		t.Fatalf("no authority: %s, %v", text, err)
	}
	return &http.Client{Transport: &http.Transport{
		ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: roots},
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "tcp", secure)
		},
	}}
}

func TestReadHTTPS(t *testing.T) {
	site := "https://settlemark.brackenhill.example"
	for _, c := range []struct{ env, url, says string }{
		{"SETTLEMARK_TLS=local", "", "SETTLEMARK_URL names no https address"},
		{"SETTLEMARK_TLS=local", "http://settlemark.brackenhill.example", "SETTLEMARK_URL names no https address"},
		{"SETTLEMARK_TLS=yes", site, "local or acme"},
		{"SETTLEMARK_TLS_CERT=a", site, "go together"},
		{"SETTLEMARK_TLS_CERT=a SETTLEMARK_TLS_KEY=b SETTLEMARK_TLS=local", site, "choose one"},
		{"SETTLEMARK_TLS=acme", "https://192.0.2.7", "public name"},
		{"SETTLEMARK_HTTP_LISTEN=:80", site, "there is no https"},
		{"SETTLEMARK_TLS_NAMES=a", site, "SETTLEMARK_TLS=local only"},
		{"SETTLEMARK_TLS=local SETTLEMARK_TLS_NAMES=192.0.2.7", site, ""},
		{"SETTLEMARK_TLS=acme SETTLEMARK_HTTP_LISTEN=:80", site, ""},
		{"", "http://settlemark.brackenhill.example", ""},
	} {
		set := map[string]string{}
		for _, pair := range strings.Fields(c.env) {
			name, value, _ := strings.Cut(pair, "=")
			set[name] = value
		}
		_, err := readHTTPS(func(name string) string { return set[name] }, c.url)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s with %q: %v", c.env, c.url, err)
		}
	}
}
