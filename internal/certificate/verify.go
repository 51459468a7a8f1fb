package certificate

import (
	"bytes"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

// Trust is what a verifier goes by: whose logs it believes, what it knows of
// withdrawals, and what day it is. Nothing else is needed, no network either.
type Trust struct {
	Policy  ledger.Policy
	Status  *ledger.StatusList // nil: none at hand
	MaxAge  time.Duration      // of the status list; 0: as long as the list itself says
	Now     time.Time
	Passkey func(s Signature, reason string) error // checks the assertion of a signature that was made with a passkey
}

// Verify says what a file is worth. It may be anybody's: until the digest, the
// site's signature and the log's are found right, nothing of it is read but
// along the one layout of Read, and nothing is unpacked but the proof.
func (t Trust) Verify(pdf []byte) Report {
	i := &inspection{trust: t, pdf: pdf}
	for _, s := range steps {
		i.run(s.name, s.do)
	}
	return i.report()
}

// steps are the checks in order: the cheap ones, which no stranger passes,
// first. Their names are what the published vectors name.
var steps = []struct {
	name string
	do   func(*inspection) (string, error)
}{
	{"file", (*inspection).file},
	{"log key", (*inspection).logKey},
	{"signature", (*inspection).siteSignature},
	{"attachments", (*inspection).attachments},
	{"site key", (*inspection).siteKey},
	{"log entry", (*inspection).logEntry},
	{"chain", (*inspection).chain},
	{"signatures", (*inspection).signatures},
	{"rules", (*inspection).rules},
	{"page", (*inspection).page},
	{"status", (*inspection).status},
	{"validity", (*inspection).validity},
}

// inspection is one file under way.
type inspection struct {
	trust   Trust
	pdf     []byte
	parts   file
	proof   ledger.Proof
	from    ledger.Checkpoint
	signer  *x509.Certificate // nil when the file is not signed
	inside  Contents
	doc     Document
	book    commissioning.Logbook
	heads   []head // of the run's chain: before the first post, and after each
	checks  []Check
	known   string // status by the list: valid, withdrawn, superseded, or "" when not known
	verdict Verdict
}

// doubt is why a check does not come out well.
type doubt struct {
	outcome Outcome
	verdict Verdict
	text    string
}

func (d doubt) Error() string { return d.text }

func foreign(format string, args ...any) error {
	return doubt{Foreign, NotOurs, fmt.Sprintf(format, args...)}
}

// cannot is what this build is too old for; it is held against nobody.
func cannot(format string, args ...any) error {
	return doubt{Skipped, Genuine, fmt.Sprintf(format, args...)}
}

// run does one check, unless one before it failed.
func (i *inspection) run(name string, do func(*inspection) (string, error)) {
	if i.verdict == NotOurs || i.verdict == Altered {
		i.checks = append(i.checks, Check{name, Skipped, "an earlier check failed"})
		return
	}
	text, err := do(i)
	if err == nil {
		i.checks = append(i.checks, Check{name, OK, text})
		return
	}
	d := doubt{Failed, Altered, err.Error()}
	errors.As(err, &d)
	i.checks = append(i.checks, Check{name, d.outcome, d.text})
	i.worsen(d.verdict)
}

func (i *inspection) worsen(v Verdict) {
	if v == Genuine {
		return
	}
	if i.verdict == Genuine || slices.Index(precedence, v) < slices.Index(precedence, i.verdict) {
		i.verdict = v
	}
}

func (i *inspection) report() Report {
	r := Report{Verdict: i.verdict, Words: i.verdict.String(), Checks: i.checks}
	if i.verdict == NotOurs || i.verdict == Altered {
		return r
	}
	r.Number, r.Unit, r.Digest = i.doc.Number, i.doc.Unit, hexSum(i.inside.Record)
	r.ReleasedAt, _ = i.doc.released()
	r.ValidUntil, _ = i.doc.until()
	r.Status = i.known
	if i.verdict == Expired {
		r.Status = string(commissioning.Expired)
	}
	if r.Status == "" {
		r.Status = "unknown"
	}
	return r
}

// oursMark stands in every file of ours, in what the document says made it.
var oursMark = []byte("\x00S\x00e\x00t\x00t\x00l\x00e\x00m\x00a\x00r\x00k\x00,\x00 \x00r\x00e\x00n\x00d\x00e\x00r\x00e\x00r\x00 ")

func (i *inspection) file() (string, error) {
	var err error
	if i.parts, err = part(i.pdf); err != nil {
		if len(i.pdf) <= mostBytes && bytes.Contains(i.pdf, oursMark) {
			return "", fmt.Errorf("it is not laid out as it was issued: %w", err)
		}
		return "", foreign("it is no certificate in the one layout that is read here: %v", err)
	}
	signed := "not signed by the site"
	if i.parts.seal != nil {
		signed = "signed by the site to its last byte"
	}
	return fmt.Sprintf("%d bytes, %s", len(i.pdf), signed), nil
}

func hexSum(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// logKey asks first whether the file comes from anybody whom the policy names.
func (i *inspection) logKey() (string, error) {
	text, err := i.parts.attachment(ProofName)
	switch {
	case errors.Is(err, errNoAttachment):
		return "", foreign("it carries no proof that any log holds it; one made before its site kept a log can't be told from a false one here, so ask the site")
	case err != nil:
		return "", err
	}
	if i.proof, err = ledger.ReadProof(text); err != nil {
		return "", err
	}
	i.inside.Proof = text
	if i.from, err = ledger.OpenCheckpoint(i.proof.Checkpoint, i.trust.Policy); err != nil {
		var forged *note.InvalidSignatureError
		if errors.As(err, &forged) {
			return "", err
		}
		return "", foreign("no log that the policy names vouches for it: %v", err)
	}
	return fmt.Sprintf("checkpoint of %s at %d leaves", i.from.Origin, i.from.Size), nil
}

func (i *inspection) siteSignature() (string, error) {
	if i.parts.seal == nil {
		return "none; the record says further down whether there should be one", nil
	}
	var err error
	i.signer, err = readCMS(i.parts.seal.cms, i.parts.seal.digest())
	if err != nil {
		return "", err
	}
	return "by “" + printable(i.signer.Subject.CommonName) + "”, over all of the file", nil
}

// attachments must be those that the record holds.
func (i *inspection) attachments() (string, error) {
	proof := i.inside.Proof
	var err error
	if i.inside, err = i.parts.contents(); err != nil {
		return "", err
	}
	if !bytes.Equal(i.inside.Proof, proof) || i.parts.attached() != 4 || i.inside.Record == nil {
		return "", errors.New("there are other attachments than the four")
	}
	if again, err := ledger.Canonical(rawJSON(i.inside.Record)); err != nil || !bytes.Equal(again, i.inside.Record) {
		return "", errors.New("record.json is not canonical")
	}
	if i.doc, err = Decode(i.inside.Record); err != nil {
		return "", foreign("this build can't read the record: %v", err)
	}
	if err := i.doc.holds(i.inside); err != nil {
		return "", err
	}
	return "logbook and assessment are those that the record holds", nil
}

// siteKey holds the signer of the file against the one whom the record names.
func (i *inspection) siteKey() (string, error) {
	switch {
	case i.signer == nil && i.doc.Signer == "":
		return "the site had no key when it was released", nil
	case i.signer == nil:
		return "", errors.New("the site's signature was taken off")
	case fingerprint(i.signer) != i.doc.Signer:
		return "", errors.New("the file is signed by another key than the record names")
	}
	return "the certificate that the record names, SHA-256 " + i.doc.Signer, nil
}

func (i *inspection) logEntry() (string, error) {
	leaf := ledger.CertificateLeaf(i.doc.Number, i.inside.Record)
	if _, err := i.proof.Check(leaf, i.trust.Policy); err != nil {
		return "", err
	}
	return fmt.Sprintf("the record is leaf %d of %d", i.proof.Index, i.from.Size), nil
}

// rules judges the logbook again, by the version of the rules that judged it.
func (i *inspection) rules() (string, error) {
	version, err := assessedBy(i.inside.Assessment)
	if err != nil {
		return "", err
	}
	again, known := rules.EncodeBy(version, i.book, i.book.At)
	if !known {
		return "", cannot("not judged again: this build has no rules of version %d", version)
	}
	if !bytes.Equal(again, i.inside.Assessment) {
		return "", errors.New("the attached logbook is judged otherwise than the attached assessment says")
	}
	return fmt.Sprintf("rules of version %d give the attached assessment again", version), nil
}
