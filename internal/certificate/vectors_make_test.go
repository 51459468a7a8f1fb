package certificate_test

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

// writing makes the vectors.
type writing struct {
	t     *testing.T
	house house
	doc   certificate.Document
	good  []byte
	index []vector
}

// newWriting has the house of the published certificates, its keys the same at
// each run.
func newWriting(t *testing.T) *writing {
	t.Helper()
	w := &writing{t: t}
	pem, err := os.ReadFile("testdata/site.pem")
	if err != nil {
		t.Fatal(err)
	}
	signer, err := certificate.ReadSigner(pem)
	if err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{vectorDir, keptDir} {
		if err := os.MkdirAll(dir, 0o750); err != nil {
			t.Fatal(err)
		}
	}
	w.house = newHouse(t, origin, signer)
	return w
}

func writeVectors(t *testing.T) {
	w := newWriting(t)
	in, _ := small(t)
	w.doc = w.house.release(in)
	w.good = w.house.issue(w.doc, nil)
	w.save("policy.txt", w.house.policy)
	w.days()
	w.bytes()
	w.strangers()
	w.insiders()
	w.passkeys()
	w.future()
	text := indexHead
	for _, v := range w.index {
		text += v.line()
	}
	w.save("index.tsv", []byte(text))
}

func (w *writing) save(name string, content []byte) {
	w.t.Helper()
	if err := os.WriteFile(filepath.Join(vectorDir, name), content, 0o600); err != nil {
		w.t.Fatal(err)
	}
}

func (w *writing) list(name string, l *ledger.StatusList) {
	w.t.Helper()
	signed, err := ledger.SignStatusList(*l, w.house.log)
	if err != nil {
		w.t.Fatal(err)
	}
	w.save(name, signed)
}

func (w *writing) add(name string, pdf []byte, verdict certificate.Verdict, check, why string) {
	w.t.Helper()
	w.save(name+".pdf", pdf)
	w.index = append(w.index, vector{name, name + ".pdf", "list.txt", dayAfter, verdict, check, why})
}

// days are one genuine file as lists and days differ.
func (w *writing) days() {
	ended := func(status, reason string) ledger.StatusLine {
		return ledger.StatusLine{Number: w.doc.Number, Status: status, At: dayAfter.Add(-2 * time.Hour), Reason: reason}
	}
	w.list("list.txt", list())
	w.list("list-withdrawn.txt", list(ended("withdrawn", "quality")))
	w.list("list-superseded.txt", list(ended("superseded", "newer-release")))
	later := list()
	later.Number, later.Issued, later.NextUpdate = 47, dayAfter.AddDate(0, 0, 40), dayAfter.AddDate(0, 0, 41)
	w.list("list-later.txt", later)
	foreign := list()
	foreign.Origin = elsewhere
	w.save("genuine.pdf", w.good)
	old, gone := dayAfter.AddDate(0, 0, 3), dayAfter.AddDate(0, 0, 40)
	for _, v := range []vector{
		{"genuine", "", "list.txt", dayAfter, certificate.Genuine, "-", "nothing is wrong with it"},
		{"no-list", "", "-", dayAfter, certificate.Unsettled, "status", "no status list at hand"},
		{"old-list", "", "list.txt", old, certificate.Unsettled, "status", "the list is past its next update"},
		{"withdrawn", "", "list-withdrawn.txt", dayAfter, certificate.Revoked, "status", "the list says withdrawn"},
		{"superseded", "", "list-superseded.txt", dayAfter, certificate.Revoked, "status", "the list says superseded"},
		{"withdrawn-in-an-old-list", "", "list-withdrawn.txt", old, certificate.Revoked, "status", "what an old list says stands all the same"},
		{"expired", "", "list-later.txt", gone, certificate.Expired, "validity", "past its last day"},
		{"expired-and-old-list", "", "list.txt", gone, certificate.Expired, "status", "of 5 and 4, 5"},
		{"expired-and-withdrawn", "", "list-withdrawn.txt", gone, certificate.Revoked, "status", "of 3 and 5, 3"},
	} {
		v.file = "genuine.pdf"
		w.index = append(w.index, v)
	}
}

// bytes are what happens to a file on its way.
func (w *writing) bytes() {
	flip := func(mark string, by int) []byte {
		out := bytes.Clone(w.good)
		out[bytes.Index(out, []byte(mark))+by] ^= 1
		return out
	}
	w.add("cut-short", w.good[:len(w.good)-100], certificate.Altered, "file", "the last 100 bytes are missing")
	w.add("cut-in-half", w.good[:len(w.good)/2], certificate.NotOurs, "file", "the second half is missing")
	w.add("bytes-appended", append(bytes.Clone(w.good), "\n% more\n"...), certificate.Altered, "file", "bytes behind the last one that is signed")
	w.add("no-certificate", []byte("%PDF-1.7\n% another document\n"), certificate.NotOurs, "file", "another document")
	w.add("byte-in-a-page", flip("<</Type /Page\n", 200), certificate.Altered, "signature", "one bit of a page")
	w.add("byte-in-the-signature", flip("/Contents<", 200), certificate.Altered, "signature", "one bit of the site's signature")
	w.add("byte-behind-the-signature", flip(">\n /Reference [", -1), certificate.Altered, "file", "a digit that is not zero behind the signature")
}

// strangers have neither the log's key nor the site's.
func (w *writing) strangers() {
	h, photos := w.house, map[string][]byte{}
	record, err := w.doc.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	proof := h.prove(ledger.CertificateLeaf(w.doc.Number, record))
	unsigned, err := certificate.Render(w.doc, photos, proof)
	if err != nil {
		w.t.Fatal(err)
	}
	foreign, err := siteSigner.Sign(unsigned)
	if err != nil {
		w.t.Fatal(err)
	}
	w.add("signature-taken-off", unsigned, certificate.Altered, "site key", "the site's signature is missing")
	w.add("foreign-signature", foreign, certificate.Altered, "site key", "signed by another certificate of the same name")
	w.add("another-site", newHouse(w.t, elsewhere, h.signer).issue(w.doc, photos), certificate.NotOurs, "log key", "in order, and in the log of another site")
	w.add("no-proof", h.file(w.doc, photos, nil), certificate.NotOurs, "log key", "no proof attached")
	read, err := ledger.ReadProof(proof)
	if err != nil {
		w.t.Fatal(err)
	}
	at := bytes.LastIndexByte(read.Checkpoint, ' ') + 40
	read.Checkpoint[at] ^= 1
	w.add("checkpoint-forged", h.file(w.doc, photos, read.Text()), certificate.Altered, "log key", "the checkpoint's signature is not the log key's")
}

// insiders have one key or more, and so get further.
func (w *writing) insiders() {
	h, photos := w.house, map[string][]byte{}
	record, err := w.doc.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	proof := h.prove(ledger.CertificateLeaf(w.doc.Number, record))
	with := func(doc certificate.Document) []byte { return h.file(doc, photos, proof) }
	draw := func(doc certificate.Document, record []byte) []byte {
		pdf, err := certificate.DrawWith(doc, photos, record, proof)
		if err != nil {
			w.t.Fatal(err)
		}
		if pdf, err = h.signer.Sign(pdf); err != nil {
			w.t.Fatal(err)
		}
		return pdf
	}
	changed := reassess(w.t, w.doc, func(book map[string]any) { value(book, "4.51", "4.55") })
	w.add("attachment-replaced", draw(changed, record), certificate.Altered, "attachments", "another logbook beside the record, signed by the site")
	w.add("reading-changed", with(changed), certificate.Altered, "log entry", "a reading changed, judged and hashed anew, signed by the site")
	w.add("another-tree", h.file(w.doc, photos, h.prove([]byte("something else"))), certificate.Altered, "log entry", "the proof is of another tree: the log forked or was rolled back")
	w.add("reading-changed-and-logged", h.issue(changed, photos), certificate.Altered, "chain", "a reading changed, all but the two signatures made anew")
	struck := w.doc
	struck.Record.Posts = append([]int{1}, struck.Record.Posts...)
	w.add("posts-parted-otherwise", h.issue(struck, photos), certificate.Altered, "chain", "the same entries in other posts")
	procedure := w.doc
	procedure.Record.Procedure = strings.Replace(procedure.Record.Procedure, "soak: 3m", "soak: 2m", 1)
	w.add("procedure-changed", h.issue(procedure, photos), certificate.Altered, "chain", "another procedure than the run was opened on")
	copied := w.signed(func(s []certificate.Signature) {
		other, _ := plain(w.t)
		s[1] = h.release(other).Signatures[1]
	})
	w.add("signature-of-another-run", h.issue(copied, photos), certificate.Altered, "signatures", "the supervisor's signature was copied from another run")
	one := w.signed(func(s []certificate.Signature) { s[1].Person, s[1].Name = s[0].Person, s[0].Name })
	w.add("one-person", h.issue(one, photos), certificate.Altered, "signatures", "one person signed twice")
	worked := w.signed(func(s []certificate.Signature) { s[1].Person = gateway })
	w.add("released-by-a-contributor", h.issue(worked, photos), certificate.Altered, "signatures", "released by somebody with entries in the run")
	early := w.signed(func(s []certificate.Signature) { s[0].Head = hexSum(nil) })
	w.add("engineer-signed-otherwise", h.issue(early, photos), certificate.Altered, "signatures", "the engineer's signature is over another record")
	judged := w.doc
	judged.Attached = append([]certificate.Attachment{}, judged.Attached...)
	judged.Attached[1].Text = strings.Replace(judged.Attached[1].Text, `"value":"4.51"`, `"value":"4.50"`, 1)
	w.add("assessment-changed", h.issue(judged, photos), certificate.Altered, "rules", "an assessment that the rules do not give")
	printed := w.doc
	printed.Unit = "BH-05"
	w.add("page-changed", draw(printed, record), certificate.Altered, "page", "another unit on the paper than in the record")
}

// passkeys are signatures by an authenticator, over this record or another.
func (w *writing) passkeys() {
	device := authtest.New("marks.brackenhill.example", "https://marks.brackenhill.example")
	made, err := auth.Register(device.Makes([]byte("enrolment")), []byte("enrolment"), device.Site.ID)
	if err != nil {
		w.t.Fatal(err)
	}
	answer := func(head string) *commissioning.Assertion {
		content, err := hex.DecodeString(head)
		if err != nil {
			w.t.Fatal(err)
		}
		const nonce = "a form of the review page"
		a := device.Answers(auth.SigningChallenge(content, nonce))
		a.PublicKey, a.RP, a.Nonce = base64.RawURLEncoding.EncodeToString(made.PublicKey), made.RP, nonce
		return a
	}
	by := func(assertion *commissioning.Assertion) []byte {
		return w.house.issue(w.signed(func(s []certificate.Signature) { s[1].Method, s[1].Passkey = "passkey", assertion }), nil)
	}
	w.add("passkey", by(answer(w.doc.Record.Head)), certificate.Genuine, "-", "the supervisor signed with a passkey")
	w.add("passkey-over-another-record", by(answer(hexSum(nil))), certificate.Altered, "signatures", "what the passkey signed is another record")
	forged := answer(w.doc.Record.Head)
	forged.ClientData = answer(hexSum(nil)).ClientData
	w.add("passkey-forged", by(forged), certificate.Altered, "signatures", "the passkey's signature is over other client data")
	w.add("passkey-taken-out", by(nil), certificate.Altered, "signatures", "signed with a passkey, as it says, and its answer is missing")
}

// future are certificates of a build that this one does not know yet.
func (w *writing) future() {
	judged := w.doc
	judged.Attached = append([]certificate.Attachment{}, judged.Attached...)
	judged.Attached[1].Text = strings.Replace(judged.Attached[1].Text, fmt.Sprintf(`"rules":%d`, rules.Version), `"rules":99`, 1)
	w.add("unknown-rules", w.house.issue(judged, nil), certificate.Genuine, "rules", "judged by rules of a later build: not held against it")
	drawn := w.doc
	drawn.Renderer = 99
	record, err := drawn.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	pdf, err := certificate.DrawWith(drawn, nil, record, w.house.prove(ledger.CertificateLeaf(drawn.Number, record)))
	if err != nil {
		w.t.Fatal(err)
	}
	if pdf, err = w.house.signer.Sign(pdf); err != nil {
		w.t.Fatal(err)
	}
	w.add("unknown-renderer", pdf, certificate.Genuine, "page", "drawn by a renderer of a later build: not held against it")
	formed := w.doc
	formed.Format = "settlemark.certificate/9"
	w.add("unknown-format", w.house.issue(formed, nil), certificate.NotOurs, "attachments", "a record of a later format")
}

func (w *writing) signed(change func([]certificate.Signature)) certificate.Document {
	doc := w.doc
	doc.Signatures = append([]certificate.Signature{}, doc.Signatures...)
	change(doc.Signatures)
	return doc
}

// value lets every reading of one value say another.
func value(book map[string]any, from, to string) {
	for _, e := range book["entries"].([]any) {
		if entry := e.(map[string]any); entry["value"] == from {
			entry["value"] = to
		}
	}
}

// judgedAnew is the assessment of a changed logbook.
func judgedAnew(t *testing.T, logbook []byte) string {
	t.Helper()
	book, err := commissioning.ParseLogbook(bytes.NewReader(logbook))
	if err != nil {
		t.Fatal(err)
	}
	return string(rules.Encode(rules.Judge(book, book.At)))
}
