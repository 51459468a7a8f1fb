package certificate

import (
	"strconv"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// Printed is what a renderer writes around the data. The record holds it from
// renderer 3 on, so that a page can be drawn again whatever the catalogues say
// by then. The data themselves are put in where it says {number} or the like.
type Printed struct {
	Title       string `json:"title"`
	Certificate string `json:"certificate"` // {number}
	Unit        string `json:"unit"`        // {unit}
	Issued      string `json:"issued"`      // {issuer}
	Page        string `json:"page"`        // {page}, {pages}
	Demo        string `json:"demo"`
	Made        string `json:"made"` // what DEMO means
	Odd         string `json:"odd"`
	Sample      string `json:"sample"`
	Photos      string `json:"photos"` // the same heading where there are other photos too
	Read        string `json:"read"`   // {engineer}, {supervisor}
	Agree       string `json:"agree"`
	Differ      string `json:"differ"` // {reason}
	Signed      string `json:"signed"` // {at}, {method}
	Bound       string `json:"bound"`  // {head}
	Of          string `json:"of"`
	Document    string `json:"document"`
	Run         string `json:"run"` // {run}, {entries}
	Procedure   string `json:"procedure"`
	Signer      string `json:"signer"`
	Log         string `json:"log"`
	Position    string `json:"position"` // {leaf}, {log}, {size}
	Code        string `json:"code"`     // {code}
	Check       string `json:"check"`    // {verify}
	End         string `json:"end"`      // {number}
}

// printedIn says in a language what a renderer writes around the document.
func (d Document) printedIn(l words.Language) *Printed {
	return &Printed{
		Title:       words.Say("Released for use").In(l),
		Certificate: words.Say("Certificate %s", "{number}").In(l),
		Unit:        words.Say("unit %s", "{unit}").In(l),
		Issued:      words.Say("Issued by %s", "{issuer}").In(l),
		Page:        words.Say("page %s of %s", "{page}", "{pages}").In(l),
		Demo:        words.Say("DEMO").In(l),
		Made:        words.Say("DEMO: made-up data. This paper releases nothing.").In(l),
		Odd:         words.Say("Out of the ordinary").In(l),
		Sample:      words.Say("Print sample").In(l),
		Photos:      words.Say("Print sample and photos").In(l),
		Read:        words.Say("Engineer read “%s”, supervisor read “%s”.", "{engineer}", "{supervisor}").In(l),
		Agree:       words.Say("The two readings agree, spaces and letter case aside; the second was typed without sight of the first.").In(l),
		Differ:      words.Say("The two readings differ. Released because: “%s”", "{reason}").In(l),
		Signed:      words.Say("Signed %s, %s", "{at}", "{method}").In(l),
		Bound:       words.Say("bound to record %s …", "{head}").In(l),
		Of:          words.Say("Of the record: SHA-256 of what the release stands on").In(l),
		Document:    words.Say("This document").In(l),
		Run:         words.Many(d.Record.Entries, "%[2]s, %[3]s entry", "%[2]s, %[3]s entries", "{run}", "{entries}").In(l),
		Procedure:   words.Say("Procedure's text").In(l),
		Signer:      words.Say("Digital signature of").In(l),
		Log:         words.Say("In the site's log").In(l),
		Position:    words.Say("entry %s of %s, proven in its first %s entries", "{leaf}", "{log}", "{size}").In(l),
		Code:        words.Say("Code to type: %s", "{code}").In(l),
		Check:       words.Say("Check it at %s", "{verify}").In(l),
		End:         words.Say("End of certificate %s", "{number}").In(l),
	}
}

// around are the words that a renderer writes, with the document's data put in:
// those of the record, and before the record held them, English ones.
func (d Document) around() Printed {
	p := d.Printed
	if p == nil {
		p = d.printedIn(words.English)
	}
	out := *p
	data := []string{
		"{number}", d.Number, "{unit}", d.Unit, "{issuer}", d.Issuer, "{verify}", d.Verify,
		"{run}", d.Record.Run, "{entries}", strconv.Itoa(d.Record.Entries),
	}
	if s := d.Sample; s != nil {
		data = append(data, "{engineer}", s.Engineer, "{supervisor}", s.Supervisor, "{reason}", s.Reason)
	}
	for _, text := range []*string{&out.Certificate, &out.Unit, &out.Issued, &out.Read, &out.Differ, &out.Run, &out.Check, &out.End} {
		*text = with(*text, data...)
	}
	return out
}

// with puts data into their places.
func with(text string, pairs ...string) string { return strings.NewReplacer(pairs...).Replace(text) }

// Said is how the paper words what a signature says: role, meaning and method.
type Said struct {
	Role    string `json:"role"`
	Meaning string `json:"meaning"`
	Method  string `json:"method"`
}

// said are the words under the name of a signer.
func (s Signature) said() Said {
	if s.Said == nil {
		return s.saidIn(words.English)
	}
	return *s.Said
}

func (s Signature) saidIn(l words.Language) Said {
	return Said{
		Role:    commissioning.SignerText(s.Role).In(l),
		Meaning: words.Say("“%s”", commissioning.SignerText(s.Meaning)).In(l),
		Method:  commissioning.SignerText(s.Method).In(l),
	}
}

// language of the words on the paper.
func (d Document) language() words.Language {
	if l, known := words.Known(d.Language); known {
		return l
	}
	return words.English
}
