package webhook_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"

	"settlemark/internal/webhook"
)

const secret = "a secret of this target"

var noon = time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC)

func at() time.Time { return noon }

// anywhere reaches the receivers of these tests, which are on this machine.
func anywhere() *webhook.Sender {
	s := webhook.New(nil, at)
	s.Refuse = func(netip.AddrPort) error { return nil }
	return s
}

func receiver(t *testing.T, do http.HandlerFunc) webhook.Target {
	t.Helper()
	s := httptest.NewServer(do)
	t.Cleanup(s.Close)
	return webhook.Target{Name: "light", URL: s.URL, Secret: secret, Plain: true}
}

func TestSend(t *testing.T) {
	message := webhook.Message{ID: "n-7", Event: "stopped", At: noon, Unit: "QU-01", Run: "R-0003", Text: "Hold stopped."}
	t.Run("a receiver can check who sent it, when, and every byte", func(t *testing.T) {
		var got webhook.Message
		target := receiver(t, func(w http.ResponseWriter, r *http.Request) {
			body, _ := io.ReadAll(r.Body)
			// As docs/webhooks.md tells receivers, and RFC 2104.
			mac := hmac.New(sha256.New, []byte(secret))
			io.WriteString(mac, r.Header.Get("Settlemark-Timestamp")+".")
			mac.Write(body)
			if want := "v1=" + hex.EncodeToString(mac.Sum(nil)); r.Header.Get("Settlemark-Signature") != want {
				t.Errorf("signature %q, wants %q", r.Header.Get("Settlemark-Signature"), want)
			}
			if r.Header.Get("Settlemark-Timestamp") != "1795521600" || r.Method != http.MethodPost {
				t.Errorf("%s at %q", r.Method, r.Header.Get("Settlemark-Timestamp"))
			}
			if err := json.Unmarshal(body, &got); err != nil {
				t.Error(err)
			}
		})
		if err := anywhere().Send(t.Context(), target, message); err != nil || got != message {
			t.Errorf("%v, the receiver has %+v", err, got)
		}
	})
	for name, answer := range map[string]http.HandlerFunc{
		"503": func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusServiceUnavailable) },
		"a redirect": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "/other", http.StatusTemporaryRedirect)
		},
		"more than 64 KB": func(w http.ResponseWriter, _ *http.Request) { w.Write(make([]byte, webhook.MostAnswer+1)) },
		"64 KB and a 404": func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(http.StatusNotFound)
			w.Write(make([]byte, webhook.MostAnswer))
		},
		"a connection cut off": func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) },
	} {
		t.Run("is not delivered by "+name, func(t *testing.T) {
			var calls atomic.Int32
			target := receiver(t, func(w http.ResponseWriter, r *http.Request) { calls.Add(1); answer(w, r) })
			if err := anywhere().Send(t.Context(), target, message); err == nil || calls.Load() != 1 {
				t.Errorf("%v after %d calls", err, calls.Load())
			}
		})
	}
	t.Run("waits no longer than its limit", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 4*webhook.Limit)
		defer cancel()
		target := receiver(t, func(_ http.ResponseWriter, r *http.Request) {
			_, _ = io.Copy(io.Discard, r.Body) // only then the server sees that the sender has gone
			<-r.Context().Done()
		})
		if err := anywhere().Send(ctx, target, message); err == nil || ctx.Err() != nil {
			t.Errorf("%v, %v", err, ctx.Err())
		}
	})
	t.Run("asks no proxy of the environment", func(t *testing.T) {
		t.Setenv("HTTP_PROXY", "http://192.0.2.1:1")
		target := receiver(t, func(http.ResponseWriter, *http.Request) {})
		if err := anywhere().Send(t.Context(), target, message); err != nil {
			t.Error(err)
		}
	})
}

// The list of 7-E4: what no target may be, however it is written.
func TestForbidden(t *testing.T) {
	sender := webhook.New([]netip.AddrPort{netip.MustParseAddrPort("10.9.8.7:6000")}, at)
	for _, address := range []string{
		"127.0.0.1", "127.1", "0.0.0.0", "0", "[::1]", "[::]", "[::ffff:127.0.0.1]", "[::ffff:7f00:1]", "2130706433", "0x7f.1", "017700000001",
		"localhost", "localhost.", "169.254.169.254", "[fe80::1]", "[::ffff:169.254.169.254]", "224.0.0.1", "[ff02::1]", "255.255.255.255",
		"[64:ff9b::7f00:1]", "[64:ff9b:1::a00:1]", "[2002:7f00:1::]", "10.1.1.1:5432", "10.9.8.7:6000", "[::ffff:10.9.8.7]:6000",
	} {
		t.Run(address, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
			defer cancel()
			err := sender.Send(ctx, webhook.Target{Name: "x", URL: "http://" + address + "/", Secret: secret, Plain: true}, webhook.Message{})
			if err == nil || ctx.Err() != nil {
				t.Fatalf("%v, %v", err, ctx.Err())
			}
			// A name that no resolver knows is as good.
			if !strings.Contains(err.Error(), "is refused") && !strings.Contains(err.Error(), "lookup") {
				t.Errorf("it fails for another reason: %v", err)
			}
		})
	}
	t.Run("a name that leads elsewhere the second time", func(t *testing.T) {
		flips(t, [4]byte{192, 0, 2, 1}, [4]byte{127, 0, 0, 1}) // RFC 5737, where nobody is, then here
		for i, want := range []string{"", "is refused"} {
			ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
			err := sender.Send(ctx, webhook.Target{Name: "x", URL: "http://flips.example.:9/", Secret: secret, Plain: true}, webhook.Message{})
			cancel()
			if err == nil || !strings.Contains(err.Error(), want) || i == 0 && strings.Contains(err.Error(), "is refused") {
				t.Errorf("the answer %d of the resolver: %v", i+1, err)
			}
		}
	})
	t.Run("private addresses of a plant may be targets", func(t *testing.T) {
		for _, address := range []string{"10.1.1.1:443", "192.168.7.8:8443", "172.16.0.9:80", "[fd00::1]:443"} {
			if err := sender.Refuse(netip.MustParseAddrPort(address)); err != nil {
				t.Errorf("%s: %v", address, err)
			}
		}
	})
}

// flips puts a resolver of our own in place, which answers every question for
// an address with the next of the list.
func flips(t *testing.T, answers ...[4]byte) {
	t.Helper()
	server, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	before := net.DefaultResolver
	net.DefaultResolver = &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "udp", server.LocalAddr().String())
	}}
	t.Cleanup(func() {
		net.DefaultResolver = before
		server.Close()
	})
	go func() {
		for buffer := make([]byte, 512); ; {
			n, from, err := server.ReadFrom(buffer)
			if err != nil {
				return
			}
			var m dnsmessage.Message
			if m.Unpack(buffer[:n]) != nil {
				continue
			}
			m.Response, m.Additionals = true, nil
			if q := m.Questions[0]; q.Type == dnsmessage.TypeA && len(answers) > 0 {
				m.Answers = []dnsmessage.Resource{{Header: dnsmessage.ResourceHeader{Name: q.Name, Class: q.Class}, Body: &dnsmessage.AResource{A: answers[0]}}}
				answers = answers[1:]
			}
			if packed, err := m.Pack(); err == nil {
				_, _ = server.WriteTo(packed, from)
			}
		}
	}()
}

func TestRead(t *testing.T) {
	good := `[{"name": "light", "url": "https://gateway.example:8443/settlemark", "secret": "` + secret + `", "events": ["stopped"]}]`
	all, err := webhook.Read([]byte(good))
	if err != nil || len(all) != 1 || len(all[0].Events) != 1 {
		t.Errorf("%+v, %v", all, err)
	}
	for name, change := range map[string][2]string{
		"a user in the address":      {"https://gateway", "https://ok@bad"},
		"another scheme":             {"https://", "ftp://"},
		"http without plain":         {"https://", "http://"},
		"a file":                     {"https://gateway.example:8443/settlemark", "file:///etc/passwd"},
		"no host":                    {"gateway.example:8443", ""},
		"a secret that is too short": {secret, "short"},
		"a field that nobody knows":  {`"name"`, `"redirects": true, "name"`},
		"an event that there is not": {"stopped", "started"},
		"no name":                    {`"light"`, `""`},
	} {
		t.Run("refuses "+name, func(t *testing.T) {
			if _, err := webhook.Read([]byte(strings.Replace(good, change[0], change[1], 1))); err == nil {
				t.Error("it was taken")
			}
		})
	}
}
