package certificate

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

// holds compares a document with what came out of a file.
func (d Document) holds(c Contents) error {
	want := []Attachment{{LogbookName, string(c.Logbook)}, {AssessmentName, string(c.Assessment)}}
	switch {
	case !slices.Equal(d.Attached, want):
		return errors.New("logbook or assessment differ from what the record holds")
	case d.Number != c.Number:
		return errors.New("the number in the title is not that of the record")
	case len(d.Signatures) != 2:
		return errors.New("the record has not two signatures")
	}
	if _, err := d.released(); err != nil {
		return err
	}
	_, err := d.until()
	return err
}

func (d Document) released() (*time.Time, error) {
	at, err := time.Parse(time.RFC3339, d.ReleasedAt)
	if err != nil {
		return nil, errors.New("the record does not say when it was released")
	}
	return &at, nil
}

func (d Document) until() (*time.Time, error) {
	if d.ValidUntil == "" {
		return nil, nil //nolint:nilnil // no end is not an error
	}
	at, err := time.Parse(time.RFC3339, d.ValidUntil)
	if err != nil {
		return nil, errors.New("the record does not say how long it is valid")
	}
	return &at, nil
}

func rawJSON(text []byte) json.RawMessage { return text }

// chain computes the run's chain again from the attached logbook, and holds
// the logbook against what the run was opened on.
func (i *inspection) chain() (string, error) {
	var err error
	if i.book, err = commissioning.ParseLogbook(bytes.NewReader(i.inside.Logbook)); err != nil {
		return "", fmt.Errorf("logbook: %w", err)
	}
	if i.heads, err = i.doc.Record.links(i.inside.Logbook); err != nil {
		return "", err
	}
	if err := i.doc.Record.openedOn(i.inside.Logbook, i.book); err != nil {
		return "", err
	}
	if head := i.heads[len(i.heads)-1]; head.hex != i.doc.Record.Head || head.seq != i.doc.Record.Entries {
		return "", errors.New("the entries of the logbook do not lead to the head that was signed")
	}
	return fmt.Sprintf("%d entries in %d posts lead to the head that was signed", i.doc.Record.Entries, len(i.doc.Record.Posts)), nil
}

// head is the chain after one post.
type head struct {
	seq int // of the post's last entry
	hex string
}

// links computes the head after every post.
func (r Record) links(logbook []byte) ([]head, error) {
	next, err := bodiesOf(logbook)
	if err != nil {
		return nil, err
	}
	link, from := ledger.Opening([]byte(r.Opening)), 0
	heads := []head{{0, hex.EncodeToString(link)}}
	for _, last := range r.Posts {
		var bodies [][]byte
		for from < last {
			body, err := next()
			if err != nil {
				return nil, err
			}
			from++
			bodies = append(bodies, body)
		}
		if len(bodies) == 0 {
			return nil, errPosts
		}
		link = ledger.Link(link, last, ledger.Post(bodies))
		heads = append(heads, head{last, hex.EncodeToString(link)})
	}
	if _, err := next(); !errors.Is(err, errPosts) {
		return nil, errors.New("the logbook has entries in no post")
	}
	return heads, nil
}

var errPosts = errors.New("the posts of the record do not part the logbook")

// bodiesOf gives the entries of a logbook one by one, each without what the
// database gave it: seq, which must be its place, and received_at. A run may
// have many thousands; they are not all held at once.
func bodiesOf(logbook []byte) (next func() ([]byte, error), err error) {
	var book struct {
		Entries json.RawMessage `json:"entries"`
	}
	if err := json.Unmarshal(logbook, &book); err != nil {
		return nil, fmt.Errorf("logbook: %w", err)
	}
	entries := json.NewDecoder(bytes.NewReader(book.Entries))
	if open, err := entries.Token(); err != nil || open != json.Delim('[') {
		return nil, errors.New("logbook: no entries")
	}
	seq := 0
	return func() ([]byte, error) {
		if !entries.More() {
			return nil, errPosts
		}
		seq++
		var entry map[string]json.RawMessage
		if err := entries.Decode(&entry); err != nil {
			return nil, fmt.Errorf("entry %d: %w", seq, err)
		}
		if string(entry["seq"]) != strconv.Itoa(seq) {
			return nil, fmt.Errorf("entry %d of the logbook is numbered %s", seq, entry["seq"])
		}
		delete(entry, "seq")
		delete(entry, "received_at")
		return ledger.Canonical(entry)
	}, nil
}

// openedOn holds the head of the logbook against the root of the chain.
func (r Record) openedOn(logbook []byte, book commissioning.Logbook) error {
	type instruments struct {
		Instruments json.RawMessage `json:"instruments"`
	}
	var o commissioning.Opening
	var opened instruments
	var run struct{ Run instruments }
	for into, text := range map[any]string{&o: r.Opening, &opened: r.Opening, &run: string(logbook)} {
		if err := json.Unmarshal([]byte(text), into); err != nil {
			return fmt.Errorf("opening: %w", err)
		}
	}
	unit := commissioning.LogbookUnit{Tag: o.Unit.Tag, Serial: o.Unit.Serial, Ink: o.Unit.Ink, Makeup: o.Unit.Makeup}
	site := commissioning.LogbookSite{Name: o.Site.Name, TimeZone: o.Site.TimeZone}
	switch {
	case string(o.Run) != book.Run.ID || r.ID != book.Run.ID || unit != book.Run.Unit || site != book.Run.Site ||
		!o.OpenedAt.Equal(book.Run.OpenedAt) || !bytes.Equal(opened.Instruments, run.Run.Instruments):
		return errors.New("the logbook is not about the run that was opened")
	case r.Text != hexSum([]byte(r.Procedure)) || r.Text != o.Procedure.SHA256:
		return errors.New("the procedure is not the one that the run was opened on")
	}
	approved, err := commissioning.ParseProcedure([]byte(r.Procedure))
	if err != nil {
		return fmt.Errorf("procedure: %w", err)
	}
	want, err := json.Marshal(approved)
	if err != nil {
		return fmt.Errorf("procedure: %w", err)
	}
	if got, err := json.Marshal(book.Procedure); err != nil || !bytes.Equal(got, want) {
		return errors.New("the logbook was judged by another procedure than the one that was approved")
	}
	return nil
}

// signatures must be of two different people, each over the record as it stood:
// the engineer's over all but the rulings after it, the supervisor's over all.
func (i *inspection) signatures() (string, error) {
	engineer, supervisor := i.doc.Signatures[0], i.doc.Signatures[1]
	if engineer.Person == "" || engineer.Person == supervisor.Person {
		return "", errors.New("both signatures are one person's")
	}
	if engineer.Meaning != commissioning.MeaningSubmit || supervisor.Meaning != commissioning.MeaningCountersign {
		return "", errors.New("the signatures do not mean submission and release")
	}
	if supervisor.Head != i.doc.Record.Head {
		return "", errors.New("the supervisor signed another record")
	}
	at := slices.IndexFunc(i.heads, func(h head) bool { return h.hex == engineer.Head })
	if at < 0 {
		return "", errors.New("the engineer signed another record")
	}
	for _, e := range i.book.Entries {
		ruling := e.Kind == commissioning.KindDisposition
		if e.Seq > i.heads[at].seq && !ruling {
			return "", fmt.Errorf("entry %d was added after the engineer signed", e.Seq)
		}
		if e.By == supervisor.Person && !ruling {
			return "", fmt.Errorf("entry %d is by the person who released", e.Seq)
		}
	}
	return i.passkeys()
}

// byPasskey is how a record names a signature that an authenticator made.
const byPasskey = "passkey"

// passkeys checks again what authenticators signed.
func (i *inspection) passkeys() (string, error) {
	said := "two people, each over the record as it stood"
	for n, s := range i.doc.Signatures {
		if s.Passkey == nil && s.Method == byPasskey {
			return "", fmt.Errorf("%s signed with a passkey, and its answer is missing", s.Name)
		}
		if s.Passkey == nil {
			continue
		}
		if i.trust.Passkey == nil {
			return "", errors.New("a passkey signed, and nothing here can check it")
		}
		if err := i.trust.Passkey(s, i.typedWith(n)); err != nil {
			return "", fmt.Errorf("the passkey of %s: %w", s.Name, err)
		}
		said += "; the passkey of " + s.Name + " signed it"
	}
	return said, nil
}

// typedWith is what its signer typed with the nth signature: the supervisor, why
// the two readings of the print sample differ.
func (i *inspection) typedWith(n int) string {
	if n == 0 || i.doc.Sample == nil {
		return ""
	}
	return i.doc.Sample.Reason
}

// assessedBy gives the version of the rules that an assessment names.
func assessedBy(assessment []byte) (int, error) {
	var a struct {
		Format string `json:"format"`
		Rules  int    `json:"rules"`
	}
	if err := json.Unmarshal(assessment, &a); err != nil || a.Format != rules.Format {
		return 0, errors.New("the assessment does not say which rules gave it")
	}
	return a.Rules, nil
}
