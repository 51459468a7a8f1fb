package ledger_test

import (
	"bytes"
	"testing"

	"settlemark/internal/ledger"
)

// What a stranger sends as a status list: no panic, and what passes is a text
// that the log signed.
func FuzzReadStatusList(f *testing.F) {
	t := &testing.T{}
	signer, vkey := logKey(t, origin)
	p := policy(t, "log "+vkey, "quorum none")
	signed, err := ledger.SignStatusList(statusList(), signer)
	if err != nil {
		f.Fatal(err)
	}
	body, signature, _ := bytes.Cut(signed, []byte("\n\n"))
	f.Add(signed)
	f.Add(append(bytes.Clone(signed), signature...))
	f.Add(bytes.Replace(signed, []byte("superseded"), []byte("withdrawn"), 1))
	f.Add(body)
	f.Add([]byte("status/1\n\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := ledger.ReadStatusList(text, p)
		if err == nil && !bytes.HasPrefix(text, []byte(l.Text())) {
			t.Errorf("read otherwise than it is written: %q", text)
		}
		if err == nil && !bytes.HasPrefix(text, append(body, '\n')) {
			t.Errorf("not what was signed: %q", text)
		}
	})
}
