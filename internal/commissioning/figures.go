package commissioning

import (
	"strconv"
	"strings"

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Figure is one number of a data sheet and where it was read. Figures feed
// estimates; they never decide a gate.
type Figure struct {
	Value  string `json:"value"`
	Source string `json:"source"`
}

// Figures of a fluid by their key; what is not known is not there.
type Figures map[string]Figure

// The keys of the figures.
const (
	Density    = "density"
	MolarMass  = "molar_mass"
	LEL        = "lel"
	Limit      = "limit"
	ShortLimit = "short_limit"
	Thickness  = "viscosity"
)

// FigureKind says what a figure is, its unit, and between which ends it can be
// meant at all: a density of 805 was read in another unit.
type FigureKind struct {
	Key         string
	Label       words.Text
	Unit        string
	least, most string
}

// FigureKinds in the order in which they are shown.
var FigureKinds = []FigureKind{
	{Density, words.Say("Density"), "g/mL", "0.3", "3"},
	{MolarMass, words.Say("Molar mass of what evaporates"), "g/mol", "10", "1000"},
	{LEL, words.Say("Lower explosive limit"), "% by volume", "0.1", "30"},
	{Limit, words.Say("Exposure limit over a shift"), "ppm", "0.001", "100000"},
	{ShortLimit, words.Say("Exposure limit for 15 minutes"), "ppm", "0.001", "100000"},
	{Thickness, words.Say("Viscosity at 25 °C"), "mPa·s", "0.05", "10000"},
}

// Number is the value for an estimate; false when the figure is not known.
func (f Figures) Number(key string) (float64, bool) {
	d, err := measure.Parse(f[key].Value)
	return d.Float(), err == nil
}

// Checked is the figures that are filled in, or what is wrong with one. The
// field of a value is its key, that of a source has "_source" behind it.
func (f Figures) Checked() (Figures, error) {
	out := Figures{}
	for _, kind := range FigureKinds {
		one := Figure{strings.TrimSpace(f[kind.Key].Value), strings.TrimSpace(f[kind.Key].Source)}
		if one == (Figure{}) {
			continue
		}
		if err := kind.check(one); err != nil {
			return nil, err
		}
		out[kind.Key] = one
	}
	return out, nil
}

func (k FigureKind) check(f Figure) error {
	d, err := measure.Parse(f.Value)
	switch {
	case f.Value == "":
		return problem.On(k.Key, "There is a source without its number. Type the number, or clear the source.")
	case err != nil:
		return problem.On(k.Key, "%s is no number. Type it with a point, such as 0.805.", strconv.Quote(f.Value))
	case d.Cmp(measure.Must(k.least)) < 0 || measure.Must(k.most).Cmp(d) < 0:
		return problem.On(k.Key, "In %s this lies between %s and %s. Check the unit.", k.Unit, k.least, k.most)
	case f.Source == "":
		return problem.On(k.Key+"_source", "Name where this number was read: the data sheet with its date, or the table.")
	case len(f.Source) > 200:
		return problem.On(k.Key+"_source", "That is longer than 200 characters. Shorten it.")
	}
	return nil
}

// Words lists the figures with unit and source, for the record of a change.
func (f Figures) Words() string {
	var all []string
	for _, k := range FigureKinds {
		if one, known := f[k.Key]; known {
			label := k.Label.String()
			all = append(all, strings.ToLower(label[:1])+label[1:]+" "+one.Value+" "+k.Unit+" ("+one.Source+")")
		}
	}
	return strings.Join(all, "; ")
}
