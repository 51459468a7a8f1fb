package templates

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// TrailLine is one entry or one act in the words in which the trail shows it.
type TrailLine struct {
	ID         string     `json:"id"`
	StoredAt   time.Time  `json:"stored_at"`   // the database's clock
	ObservedAt time.Time  `json:"observed_at"` // claimed; of an act: when it was done
	CapturedAt *time.Time `json:"captured_at,omitempty"`
	Device     string     `json:"device,omitempty"`
	Via        string     `json:"via,omitempty"`
	By         string     `json:"by,omitempty"`
	Name       string     `json:"name"`
	Kind       string     `json:"kind"`
	What       words.Text `json:"what"`
	Found      words.Text `json:"found,omitzero"`
	Was        words.Text `json:"was,omitzero"`
	Became     words.Text `json:"became,omitzero"`
	Reason     string     `json:"reason,omitempty"`
	Detail     string     `json:"detail,omitempty"`
	Unit       string     `json:"unit,omitempty"`
	SiteName   string     `json:"site,omitempty"`
	TimeZone   string     `json:"time_zone,omitempty"`
	RunNumber  string     `json:"run,omitempty"`
	Seq        int        `json:"seq,omitempty"`
	URL        string     `json:"-"` // of what it is about
}

// TrailView is one page of the trail.
type TrailView struct {
	Lines []TrailLine
	Form  parts.Form // the filter
	Query string     // of the address without the place, for the files
	Older string     // address of what is older, "" at the end
	Newer bool       // this is not the newest page
	Zone  string     // of the reader's site, for acts of no site
	All   bool       // the reader sees evidence, not only registers
	Aside bool       // the reader may see what was set aside
}

// EntrySaid says an entry by itself: what it is about, what was found, and for
// a correction what stood before and what stands now. about is the entry that
// it speaks of, nil when it speaks of none.
func EntrySaid(p commissioning.Procedure, names map[string]string, e commissioning.Entry, about *commissioning.Entry) (what, found, was, became words.Text) {
	v := RunView{Procedure: p, Names: names}
	for i, section := range p.Sections {
		for _, step := range section.Steps {
			v.Exam.Steps = append(v.Exam.Steps, rules.StepState{Section: i, Step: step})
		}
	}
	if about != nil {
		v.Entries = make([]commissioning.Entry, about.Seq)
		v.Entries[about.Seq-1] = *about
	}
	what, found = v.What(e)
	if e.Kind != commissioning.KindCorrection {
		return what, found, words.Text{}, words.Text{}
	}
	if about != nil {
		was = v.stands(*about)
	}
	became = words.Say("struck out")
	if e.Replacement != nil {
		became = v.stands(*e.Replacement)
	}
	return words.Say("Entry %d corrected", e.Strikes), words.Text{}, was, became
}

// stands says what an entry puts into the record.
func (v RunView) stands(e commissioning.Entry) words.Text {
	if e.Kind == commissioning.KindCorrection {
		if e.Replacement == nil {
			return words.Say("struck out")
		}
		return v.stands(*e.Replacement)
	}
	about, found := v.What(e)
	return words.Join(": ", about, found)
}

// RegisterSaid says what an act changed in a register, field by field.
func RegisterSaid(was, became string) (before, after words.Text) {
	var old, now map[string]any
	if json.Unmarshal([]byte(became), &now) != nil {
		return words.Plain(was), words.Plain(became)
	}
	if json.Unmarshal([]byte(was), &old) != nil {
		return words.Text{}, fields(now, func(string) bool { return true })
	}
	changed := func(key string) bool { return fmt.Sprint(old[key]) != fmt.Sprint(now[key]) }
	return fields(old, changed), fields(now, changed)
}

func fields(of map[string]any, wanted func(key string) bool) words.Text {
	var keys []string
	for key := range of {
		if key != "id" && wanted(key) {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	var all []words.Text
	for _, key := range keys {
		all = append(all, words.Say("%s %s", fieldName(key), fieldText(of[key])))
	}
	return words.Join("; ", all...)
}

func fieldText(v any) words.Text {
	switch v := v.(type) {
	case nil:
		return words.Say("empty")
	case string:
		if v == "" {
			return words.Say("empty")
		}
		return words.Plain(v)
	case []any:
		var all []words.Text
		for _, one := range v {
			all = append(all, fieldText(one))
		}
		if len(all) == 0 {
			return words.Say("none")
		}
		return words.Join(", ", all...)
	case float64, bool:
		return words.Plain(fmt.Sprint(v))
	}
	text, err := json.Marshal(v)
	if err != nil {
		return words.Plain(fmt.Sprint(v))
	}
	return words.Plain(string(text))
}

// zone is that of the line's site, else of the reader's.
func (v TrailView) zone(l TrailLine) string {
	if l.TimeZone != "" {
		return l.TimeZone
	}
	return v.Zone
}

func (l TrailLine) who() string {
	if l.Name == "" {
		return "Settlemark"
	}
	return l.Name
}

// from says how and on which device it came, nothing for an act.
func (l TrailLine) from() words.Text {
	if l.Seq == 0 {
		return words.Text{}
	}
	from := viaWords(l.Via)
	if l.Device != "" {
		from = words.Say("%s, device %s", from, l.Device)
	}
	return from
}

// earlier are the instants that differ from that of storing.
func (l TrailLine) earlier(zone string) []words.Text {
	var all []words.Text
	second := func(t time.Time) string { return words.Moment(parts.In(t, zone), "2006-01-02 15:04:05") }
	stored := second(l.StoredAt)
	if t := second(l.ObservedAt); t != stored {
		if l.Seq == 0 {
			all = append(all, words.Say("done %s", t))
		} else {
			all = append(all, words.Say("observed %s", t))
		}
	}
	if l.CapturedAt != nil && second(*l.CapturedAt) != stored {
		all = append(all, words.Say("captured %s", second(*l.CapturedAt)))
	}
	return all
}

var trailKinds = []parts.Option{
	{Value: "entries", Label: words.Say("Entries")},
	{Value: "readings", Label: words.Say("Readings")},
	{Value: "corrections", Label: words.Say("Corrections")},
	{Value: "rulings", Label: words.Say("Rulings")},
	{Value: "runs", Label: words.Say("Runs and signatures")},
	{Value: "certificates", Label: words.Say("Certificates")},
	{Value: "procedures", Label: words.Say("Procedures")},
	{Value: "registers", Label: words.Say("Registers")},
	{Value: "people", Label: words.Say("People, roles, keys")},
}

func (v TrailView) file(pattern string) string {
	if v.Query == "" {
		return pattern
	}
	return pattern + "?" + v.Query
}

func (v TrailView) newest() string { return v.file(urls.TrailPattern) }
