package commissioning

import (
	"strings"
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// PercentOfValue is the unit of an uncertainty that grows with the value.
const PercentOfValue = "%"

// Instrument is something that a site measures with. Its uncertainty is the
// expanded one of its calibration certificate, with the factor k. A run that
// names it keeps these words as they stood when the run was opened.
type Instrument struct {
	ID          int64        `json:"-"`
	Site        SiteID       `json:"-"`
	Code        string       `json:"code"`
	Name        string       `json:"name"`
	Serial      string       `json:"serial"`
	Quantity    measure.Kind `json:"quantity"`
	Uncertainty string       `json:"uncertainty"`
	Unit        string       `json:"unit"` // of the uncertainty: one of the quantity's, or PercentOfValue
	K           string       `json:"k"`
	Due         string       `json:"due"` // the last day on which its calibration stands, 2026-11-30
}

// Overdue says whether the calibration has run out at an instant, in the site's
// time. The day of the due date itself still counts.
func (i Instrument) Overdue(at time.Time, zone *time.Location) bool {
	return at.In(zone).Format(time.DateOnly) > i.Due
}

// UncertaintyInWords says how well it measures; its unit as in files.
func (i Instrument) UncertaintyInWords() words.Text {
	u := Uncertainty{Absolute: i.Uncertainty, K: i.K}
	if i.Unit == PercentOfValue {
		u = Uncertainty{Percent: i.Uncertainty, K: i.K}
	}
	return u.SizeInWords(i.Unit)
}

// QuantityName says what it measures.
func (i Instrument) QuantityName() words.Text { return KindName(i.Quantity) }

// KindName says a kind of quantity.
func KindName(kind measure.Kind) words.Text {
	switch kind {
	case measure.Viscosity:
		return words.Say("viscosity")
	case measure.Temperature:
		return words.Say("temperature")
	case measure.Pressure:
		return words.Say("pressure")
	case measure.Volume:
		return words.Say("volume")
	}
	return words.Plain(string(kind))
}

// Checked is the instrument with blanks cut off, or what is wrong with it.
func (i Instrument) Checked() (Instrument, error) {
	for _, text := range []struct {
		field    string
		value    *string
		sentence words.Text
	}{
		{"code", &i.Code, words.Say("Give the code that stands on the instrument.")},
		{"name", &i.Name, words.Say("Say what it is.")},
		{"serial", &i.Serial, words.Say("Give its serial number.")},
	} {
		if *text.value = strings.TrimSpace(*text.value); *text.value == "" {
			return i, problem.On(text.field, "%s", text.sentence)
		}
	}
	if kind, known := measure.KindOf(i.Unit); i.Unit != PercentOfValue && (!known || kind != i.Quantity) {
		return i, problem.On("unit", "Choose a unit of the quantity that it measures, or percent of the value.")
	}
	if i.Unit == PercentOfValue && len(measure.UnitsOf(i.Quantity)) == 0 {
		return i, problem.On("quantity", "Choose what it measures.")
	}
	for _, number := range []struct{ field, text string }{{"uncertainty", i.Uncertainty}, {"k", i.K}} {
		if d, err := measure.Parse(number.text); err != nil || d.Sign() <= 0 {
			return i, problem.On(number.field, "Type a number above zero, with a point, as its calibration certificate has it.")
		}
	}
	if _, err := time.Parse(time.DateOnly, i.Due); err != nil {
		return i, problem.On("due", "Type the day as year-month-day, such as 2026-11-30.")
	}
	return i, nil
}
