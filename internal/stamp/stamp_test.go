package stamp_test

import (
	"context"
	"crypto"
	"encoding/pem"
	"io"
	"math/big"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/digitorus/timestamp"

	"settlemark/internal/stamp"
	"settlemark/internal/stamp/stamptest"
)

const checkpoint = "marks.example/1\n7\nroot\n\n— marks.example/1 signature\n"

func TestAsk(t *testing.T) {
	a := &stamptest.Authority{}
	token, err := stamp.Ask(t.Context(), a.Serve(t), []byte(checkpoint), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if token.Authority != "CN=Clock of the test" || time.Since(token.At) > time.Minute {
		t.Errorf("by %s at %s", token.Authority, token.At)
	}
	t.Run("another program finds the token good", func(t *testing.T) {
		dir := t.TempDir()
		write := func(name string, b []byte) string {
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, b, 0o600); err != nil {
				t.Fatal(err)
			}
			return path
		}
		root := write("root.pem", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.Certificate.Raw}))
		data, file := write("checkpoint", []byte(checkpoint)), write("token", token.DER)
		out, err := exec.Command("openssl", "ts", "-verify", "-token_in", "-in", file, "-data", data, "-CAfile", root).CombinedOutput()
		if err != nil || !strings.Contains(string(out), "Verification: OK") {
			t.Errorf("%v (package openssl is needed)\n%s", err, out)
		}
		data = write("checkpoint", []byte(checkpoint+"\n"))
		if exec.Command("openssl", "ts", "-verify", "-token_in", "-in", file, "-data", data, "-CAfile", root).Run() == nil {
			t.Error("it is good for other bytes too")
		}
	})
}

func TestAskRefuses(t *testing.T) {
	body := func(status int, text string) func(http.ResponseWriter) {
		return func(w http.ResponseWriter) {
			w.WriteHeader(status)
			_, _ = io.WriteString(w, text)
		}
	}
	rejection, err := timestamp.CreateErrorResponse(timestamp.Rejection, timestamp.TimeNotAvailable)
	if err != nil {
		t.Fatal(err)
	}
	for name, a := range map[string]*stamptest.Authority{
		"a token for another question|another question":                  {Spoil: func(s *timestamp.Timestamp) { s.Nonce = big.NewInt(1) }},
		"a token without the question's number|another question":         {Spoil: func(s *timestamp.Timestamp) { s.Nonce = nil }},
		"a token over other bytes|other bytes":                           {Spoil: func(s *timestamp.Timestamp) { s.HashedMessage = make([]byte, 32) }},
		"a token over a hash of another kind|other bytes":                {Spoil: func(s *timestamp.Timestamp) { s.HashAlgorithm, s.HashedMessage = crypto.SHA384, make([]byte, 48) }},
		"a token without the certificate|not signed by one certificate":  {Spoil: func(s *timestamp.Timestamp) { s.AddTSACertificate = false }},
		"a token by a clock that is wrong|our clock":                     {Spoil: func(s *timestamp.Timestamp) { s.Time = s.Time.Add(-20 * time.Minute) }},
		"a token from before its certificate|not valid at that instant":  {Spoil: func(s *timestamp.Timestamp) { s.Time = s.Time.Add(-2 * time.Hour) }},
		"a certificate for time stamps on the side|for time stamps only": {Uncertain: true},
		"a certificate for mail too|for time stamps only":                {Other: true},
		"a rejection|rejected":                                           {Answer: body(200, string(rejection))},
		"garbage|no good":                                                {Answer: body(200, "jam")},
		"half an answer|no good":                                         {Answer: body(200, "\x30\x82\x10\x00\x30\x03\x02\x01\x00")},
		"nothing|no good":                                                {Answer: body(200, "")},
		"a page that says no|503":                                        {Answer: body(503, "later")},
		"more than an answer can be|more than":                           {Answer: body(200, strings.Repeat("\x30", 70<<10))},
	} {
		name, why, _ := strings.Cut(name, "|")
		t.Run(name, func(t *testing.T) {
			if token, err := stamp.Ask(t.Context(), a.Serve(t), []byte(checkpoint), time.Now()); err == nil || !strings.Contains(err.Error(), why) {
				t.Errorf("%v, %+v", err, token)
			}
		})
	}
	t.Run("an authority that does not answer in time", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
		defer cancel()
		hang := make(chan struct{})
		a := &stamptest.Authority{Answer: func(http.ResponseWriter) { <-hang }}
		address := a.Serve(t)
		t.Cleanup(func() { close(hang) })
		if _, err := stamp.Ask(ctx, address, []byte(checkpoint), time.Now()); err == nil {
			t.Error("taken")
		}
	})
}
