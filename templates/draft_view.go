package templates

import (
	"strconv"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// procedureSheet stays apart: no tablet at a bench needs it.
const procedureSheet = "css/procedures.css"

// DraftView is a draft as each of its pages shows it.
type DraftView struct {
	ID        int64
	Key       string
	Title     string // as the draft has it, the key where it has none
	Base      int    // the revision that it began as, 0 for a new procedure
	Version   int
	Text      string
	ChangedBy string
	ChangedAt time.Time
	Authors   []string
	Refusals  []commissioning.Refusal // why it is no procedure yet
	Form      parts.Form
}

// DraftTab is one way to look at a draft.
type DraftTab int

// The pages of a draft.
const (
	AsForm DraftTab = iota
	AsYAML
	AsPreview
	AsSubmit
)

type draftTab struct {
	tab   DraftTab
	label words.Text
	url   string
}

func (v DraftView) tabs() []draftTab {
	return []draftTab{
		{AsForm, words.Say("Form"), urls.Draft(v.ID)},
		{AsYAML, words.Plain("YAML"), urls.DraftYAML(v.ID)},
		{AsPreview, words.Say("Preview"), urls.DraftPreview(v.ID)},
		{AsSubmit, words.Say("Submit"), urls.DraftSubmit(v.ID)},
	}
}

func (v DraftView) version() string { return strconv.Itoa(v.Version) }

// began says what the draft is to become.
func (v DraftView) began() words.Text {
	if v.Base == 0 {
		return words.Say("A new procedure, %s.", v.Key)
	}
	return words.Say("%s, begun as revision %d.", v.Key, v.Base)
}

func (v DraftView) savedWords(zone string) words.Text {
	return words.Say("Version %d, saved by %s, %s.", v.Version, v.ChangedBy, parts.DayMinute(v.ChangedAt, zone))
}

func (v DraftView) authorWords() words.Text {
	return words.Say("Changed by %s. None of them can approve it.", strings.Join(v.Authors, ", "))
}

func (v DraftView) refusalTitle() words.Text {
	return words.Many(len(v.Refusals), "%d thing to correct before it can be submitted", "%d things to correct before it can be submitted")
}

// TextLine is one line of a text with what is wrong on it.
type TextLine struct {
	Number int
	Text   string
	Wrong  []words.Text
}

// lines numbers the text.
func (v DraftView) lines() []TextLine {
	texts := strings.Split(strings.TrimSuffix(v.Text, "\n"), "\n")
	all := make([]TextLine, len(texts))
	for i, text := range texts {
		all[i] = TextLine{Number: i + 1, Text: text}
	}
	for _, r := range v.Refusals {
		if r.Line >= 1 && r.Line <= len(all) {
			all[r.Line-1].Wrong = append(all[r.Line-1].Wrong, refusalWords(r))
		}
	}
	return all
}

// around gives the lines that are wrong with two lines above and below each.
func (v DraftView) around() [][]TextLine {
	const near = 2
	all, last := v.lines(), -near-2
	var groups [][]TextLine
	for i := range all {
		if len(all[i].Wrong) == 0 {
			continue
		}
		from := max(0, i-near)
		if from > last+1 || len(groups) == 0 {
			groups, last = append(groups, nil), from-1
		}
		to := min(len(all)-1, i+near)
		groups[len(groups)-1] = append(groups[len(groups)-1], all[last+1:to+1]...)
		last = to
	}
	return groups
}

// refusalWords is what the loader expected, as a sentence.
func refusalWords(r commissioning.Refusal) words.Text {
	return words.Say("%s: %s", strings.TrimPrefix(r.Path, "$."), r.Reason)
}

// rows leaves room to write below the last line.
func (v DraftView) rows() string { return strconv.Itoa(strings.Count(v.Text, "\n") + 6) }

// PartView is one part of the form.
type PartView struct {
	DraftView
	At      string // path in the text
	Was     string // what tells this line from others: its id or key
	Heading words.Text
	Fields  []PartField
	Excerpt string   // as it is written
	Rest    []string // fields that the form does not cover
	Moved   bool     // somebody saved in between; the values are those that were typed
}

// PartField is one field: an input, or boxes to tick where Ticks are given.
type PartField struct {
	parts.Input
	Ticks []parts.Option
}

// OutlineView is the form of a draft: every part with what may be done to it.
type OutlineView struct {
	DraftView
	Broken     words.Text // why the form can't be opened, nothing when it can
	Head       []OutlineFact
	Sections   []OutlineSection
	Quantities []OutlineItem
	Gates      []OutlineItem
	Faults     OutlineItem
}

// OutlineFact is one value at the head.
type OutlineFact struct {
	Label, Value words.Text
}

// OutlineSection is one section with its lines.
type OutlineSection struct {
	OutlineItem
	Steps []OutlineItem
}

// OutlineItem is one part: what it says, where it stands, where it can go.
type OutlineItem struct {
	At            string
	Label, Detail words.Text
	Index, Of     int // in its list
	Wrong         bool
}

// List is the path of the list in which the item stands.
func (i OutlineItem) List() string { return i.At[:max(0, strings.LastIndexByte(i.At, '.'))] }
