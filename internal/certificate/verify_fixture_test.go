package certificate_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
)

// origin of the log in these tests, and another site's.
const (
	origin    = "marks.brackenhill.example/0197370a-0000-7000-8000-0000000000aa/1"
	elsewhere = "marks.elsewhere.example/0197370a-0000-7000-8000-0000000000bb/1"
)

// house is a site that issues certificates: its log's key and its own.
type house struct {
	t      *testing.T
	log    note.Signer
	policy []byte
	signer *certificate.Signer
}

// keyOf makes a log key that is the same in every run of the tests.
func keyOf(t *testing.T, name string) (note.Signer, string) {
	t.Helper()
	seed := sha256.Sum256([]byte("test key of " + name))
	private, public, err := note.GenerateKey(bytes.NewReader(seed[:]), name)
	if err != nil {
		t.Fatal(err)
	}
	signer, err := note.NewSigner(private)
	if err != nil {
		t.Fatal(err)
	}
	return signer, public
}

func newHouse(t *testing.T, name string, signer *certificate.Signer) house {
	t.Helper()
	log, public := keyOf(t, name)
	return house{t, log, fmt.Appendf(nil, "log %s\nquorum none\n", public), signer}
}

// trust is what somebody goes by who has the policy of this house and looks on
// the day after.
func (h house) trust(list *ledger.StatusList) certificate.Trust {
	h.t.Helper()
	policy, err := ledger.ReadPolicy(h.policy)
	if err != nil {
		h.t.Fatal(err)
	}
	return certificate.Trust{Policy: policy, Status: list, Now: dayAfter}
}

var dayAfter = time.Date(2026, 6, 5, 12, 0, 0, 0, time.UTC)

// list is the house's status list of the morning after.
func list(lines ...ledger.StatusLine) *ledger.StatusList {
	return &ledger.StatusList{
		Origin: origin, Number: 7, Issued: dayAfter.Add(-time.Hour), NextUpdate: dayAfter.Add(23 * time.Hour), LogSize: 40, Lines: lines,
	}
}

// prove puts a leaf between others and shows where it stands.
func (h house) prove(leaf []byte) []byte {
	h.t.Helper()
	tree := ledger.NewTree(0, func(indexes []int64) ([]tlog.Hash, error) { return nil, fmt.Errorf("not kept: %v", indexes) })
	const before, after = 21, 9
	for n := range before + 1 + after {
		other := fmt.Appendf(nil, `{"n":%d}`, n)
		if n == before {
			other = leaf
		}
		if err := tree.Append(other); err != nil {
			h.t.Fatal(err)
		}
	}
	root, err := tree.RootAt(tree.Size())
	if err != nil {
		h.t.Fatal(err)
	}
	hashes, err := tree.Prove(before, tree.Size())
	if err != nil {
		h.t.Fatal(err)
	}
	signed, err := ledger.SignCheckpoint(ledger.Checkpoint{Origin: h.log.Name(), Size: tree.Size(), Root: root}, h.log)
	if err != nil {
		h.t.Fatal(err)
	}
	return ledger.Proof{Index: before, Hashes: hashes, Checkpoint: signed}.Text()
}

// release composes what the house would.
func (h house) release(in certificate.Source) certificate.Document {
	h.t.Helper()
	in.Signer = h.signer.Fingerprint()
	doc, err := certificate.Compose(in)
	if err != nil {
		h.t.Fatal(err)
	}
	return doc
}

// issue makes the file of a document that stands in the house's log.
func (h house) issue(doc certificate.Document, photos map[string][]byte) []byte {
	h.t.Helper()
	record, err := doc.Encode()
	if err != nil {
		h.t.Fatal(err)
	}
	return h.file(doc, photos, h.prove(ledger.CertificateLeaf(doc.Number, record)))
}

func (h house) file(doc certificate.Document, photos map[string][]byte, proof []byte) []byte {
	h.t.Helper()
	pdf, err := certificate.Render(doc, photos, proof)
	if err != nil {
		h.t.Fatal(err)
	}
	if pdf, err = h.signer.Sign(pdf); err != nil {
		h.t.Fatal(err)
	}
	return pdf
}

// small is a run as short as a procedure allows, for a small file.
func small(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	yaml, err := os.ReadFile("testdata/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s := newStory(t)
	s.yaml = string(yaml)
	if s.proc, err = commissioning.ParseProcedure(yaml); err != nil {
		t.Fatal(err)
	}
	s.add(commissioning.Entry{Kind: commissioning.KindStart, Step: "start"})
	s.wait(time.Minute)
	s.readings(4, func(int) float64 { return 4.51 })
	return s.source(), s.photos
}

// reassess lets the logbook of a document be another one, judged and hashed
// anew, as somebody would who can do everything but sign.
func reassess(t *testing.T, doc certificate.Document, change func(book map[string]any)) certificate.Document {
	t.Helper()
	var book map[string]any
	if err := json.Unmarshal([]byte(doc.Attached[0].Text), &book); err != nil {
		t.Fatal(err)
	}
	change(book)
	text, err := ledger.Canonical(book)
	if err != nil {
		t.Fatal(err)
	}
	doc.Attached = slices.Clone(doc.Attached)
	doc.Attached[0].Text, doc.Attached[1].Text = string(text), judgedAnew(t, text)
	return doc
}
