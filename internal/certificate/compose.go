package certificate

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/gowebpki/jcs"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Names of the files inside the PDF.
const (
	LogbookName    = "logbook.json"
	AssessmentName = "assessment.json"
	RecordName     = "record.json"
	ProofName      = "proof.tlog-proof"
)

// Compose says what the certificate of a released run says. It refuses a source
// that lacks one of the two signatures, a time zone or a releasable assessment.
func Compose(in Source) (Document, error) {
	c, err := newComposer(in)
	if err != nil {
		return Document{}, err
	}
	attached, err := c.attachments()
	if err != nil {
		return Document{}, err
	}
	d := Document{
		Format: Format, Renderer: Renderer, Language: string(c.lang),
		Number: string(in.Number), Paper: c.paper(), Demo: in.Run.Demo || in.Site.Demo,
		Unit: in.Unit.Tag, Line: in.Run.Line, Issuer: joined(", ", in.Site.Name, in.Site.Address),
		ReleasedAt: in.ReleasedAt.UTC().Format(time.RFC3339),
		Facts:      c.facts(), Hold: c.hold(), Heading: c.heading(),
		Chart:      chart.Settling(in.Exam, c.chartOptions()),
		Tables:     c.tables(),
		Sample:     c.sample(),
		Validity:   c.validity(),
		Signatures: []Signature{c.signature(c.submitted), c.signature(c.countersigned)},
		Record: Record{
			Run: in.Run.Number.String(), ID: string(in.Run.ID), Entries: len(in.Logbook.Entries),
			Head: hex.EncodeToString(c.countersigned.Head), Opening: string(in.Opening), Posts: in.Posts,
			Text: in.Procedure.SHA256, Procedure: in.Procedure.YAML,
		},
		Verify: in.VerifyURL, Signer: in.Signer, Attached: attached, Closing: c.closing(),
	}
	if in.ValidUntil != nil {
		d.ValidUntil = in.ValidUntil.UTC().Format(time.RFC3339)
	}
	d.Odd, d.Ordinary = c.odd()
	d.Pictures, d.More = c.pictures()
	d.Printed = d.printedIn(c.lang)
	return d, nil
}

// composer holds a source with what is looked up again and again.
type composer struct {
	Source
	proc                     commissioning.Procedure
	lang                     words.Language
	zone                     *time.Location
	submitted, countersigned commissioning.Signature
	begun                    time.Time
	bySeq                    map[int]commissioning.Entry
}

func newComposer(in Source) (*composer, error) {
	zone, err := time.LoadLocation(in.Site.TimeZone)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: time zone %q: %w", in.Number, in.Site.TimeZone, err)
	}
	if v := in.Exam.Assessment.Verdict; v != rules.Releasable {
		return nil, fmt.Errorf("certificate %s: the run is %s, not releasable", in.Number, v)
	}
	lang, known := words.Known(in.Site.Language)
	if !known {
		lang = words.English
	}
	c := &composer{Source: in, lang: lang, proc: in.Logbook.Procedure, zone: zone, begun: in.Run.OpenedAt, bySeq: map[int]commissioning.Entry{}}
	for _, s := range in.Signatures {
		switch {
		case s.Round != in.Run.Round:
		case s.Kind == commissioning.Submission:
			c.submitted = s
		case s.Kind == commissioning.Countersignature:
			c.countersigned = s
		}
	}
	if c.submitted.Person == "" || c.countersigned.Person == "" {
		return nil, fmt.Errorf("certificate %s: %w", in.Number, errUnsigned)
	}
	for _, e := range in.Logbook.Entries {
		c.bySeq[e.Seq] = e
	}
	return c, nil
}

var errUnsigned = errors.New("both signatures of the last round are needed")

// attachments are the logbook as it was judged and its assessment, as the
// command line prints it for that logbook.
func (c *composer) attachments() ([]Attachment, error) {
	raw, err := json.Marshal(c.Logbook)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: logbook: %w", c.Number, err)
	}
	book, err := jcs.Transform(raw)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: logbook: %w", c.Number, err)
	}
	assessment := rules.Encode(c.Exam.Assessment)
	return []Attachment{{LogbookName, string(book)}, {AssessmentName, string(assessment)}}, nil
}

func (c *composer) paper() string {
	if c.Site.Paper == "Letter" {
		return "Letter"
	}
	return "A4"
}

func (c *composer) chartOptions() chart.Options {
	return chart.Options{
		Width: 780, Height: 290, Zone: c.zone, Now: c.Logbook.At,
		Quantity: c.proc.Gates.Viscosity.Quantity, Paper: true, Language: c.lang,
	}
}

// name gives the printed name of a code; a code without one stands for itself.
func (c *composer) name(code string) string {
	if n := c.Names[code]; n != "" {
		return n
	}
	if code == "" {
		return c.say("not recorded")
	}
	return code
}

// say says a text in the language of the paper. Its format is a key of the catalogues.
func (c *composer) say(format string, args ...any) string {
	return words.Say(format, args...).In(c.lang)
}

// many says a text by a count, which is the first argument of both formats.
func (c *composer) many(n int, one, other string, args ...any) string {
	return words.Many(n, one, other, args...).In(c.lang)
}

// number writes a decimal with the decimal mark of the paper.
func (c *composer) number(decimal string) string { return words.Number(decimal).In(c.lang) }

func joined(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}
