package templates

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/tabular"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// ImportView is a file on its way into a run. Until Done nothing of it is stored.
type ImportView struct {
	Name, SHA256 string // of the file as it was chosen
	Text         string // "" before one was chosen
	Mapping      tabular.Mapping
	Read         tabular.Result
	Form         parts.Form // the mapping, as it is or was chosen
	Done         *Imported
}

// Imported is what became of the readings of a file.
type Imported struct {
	Stored, Again int
	Refused       []tabular.Bad
}

// ImportDelimiters by their names in the form.
var ImportDelimiters = map[string]string{"tab": "\t", "semicolon": ";", "bar": "|", "comma": ","}

// shownOfFile is how much of a file the page shows.
const (
	shownReadings = 12
	shownBad      = 50
)

// Importable is what a column of a file can hold a reading of.
func (v RunView) Importable() (all []tabular.Quantity) {
	for _, q := range v.Procedure.Quantities {
		all = append(all, tabular.Quantity{Key: q.Key, Label: q.Label, Unit: q.Unit, State: q.State != nil})
	}
	return all
}

// inputs are the choices about the file as a whole.
func (i ImportView) inputs(v RunView) []parts.Input {
	var columns []parts.Option
	for n := range i.Mapping.Columns {
		columns = append(columns, parts.Option{Value: strconv.Itoa(n + 1), Label: i.columnName(n)})
	}
	layouts := make([]parts.Option, len(tabular.Layouts))
	for n, l := range tabular.Layouts {
		layouts[n] = parts.Option{Value: l.Name, Label: layoutWords(l)}
	}
	zones := []parts.Option{{Value: v.Site.TimeZone, Label: words.Say("of the site, %s", v.Site.TimeZone)}}
	if fixed := winterZone(v.Site.TimeZone, v.Run.OpenedAt); fixed != nil {
		zones = append(zones, parts.Option{Value: fixed.String(), Label: words.Say("%s all year, no summer time", words.Offset(v.Run.OpenedAt.In(fixed)))})
	}
	if v.Site.TimeZone != "UTC" {
		zones = append(zones, parts.Option{Value: "UTC", Label: words.Plain("UTC")})
	}
	if z := i.Mapping.Zone; !slices.ContainsFunc(zones, func(o parts.Option) bool { return o.Value == z }) && z != "" {
		zones = append(zones, parts.Option{Value: z, Label: words.Plain(z)})
	}
	inputs := []parts.Input{
		{Name: "delimiter", Label: words.Say("Between the columns"), Required: true, Options: []parts.Option{
			{Value: "tab", Label: words.Say("a tab")},
			{Value: "semicolon", Label: words.Say("a semicolon")},
			{Value: "bar", Label: words.Say("a bar")},
			{Value: "comma", Label: words.Say("a comma")},
		}},
		{Name: "decimal", Label: words.Say("Decimal mark"), Required: true, Options: []parts.Option{
			{Value: ".", Label: words.Say("a point, 4.5")}, {Value: ",", Label: words.Say("a comma, 4,5")},
		}},
		{Name: "layout", Label: words.Say("Times are written like"), Required: true, Options: layouts},
		{Name: "zone", Label: words.Say("Time zone"), Required: true, Options: zones},
		{Name: "time", Label: words.Say("Column of the time"), Required: true, Options: columns},
		{Name: "date", Label: words.Say("Column of the date, if it stands apart"), Options: columns},
	}
	if i.Read.Repeated > 0 {
		inputs = append(inputs, parts.Input{Name: "twice", Label: words.Say("The hour that the clocks show twice"), Options: []parts.Option{
			{Value: tabular.TwiceOrder, Label: words.Say("both, as the rows follow each other")},
			{Value: tabular.TwiceFirst, Label: words.Say("only the first time")},
			{Value: tabular.TwiceSecond, Label: words.Say("only the second time")},
		}})
	}
	return inputs
}

// winterZone is the zone of a clock that nobody puts forward in summer: the site's
// offset of the winter, nil where the site has but one, or one of no whole hours.
func winterZone(site string, near time.Time) *time.Location {
	zone, err := time.LoadLocation(site)
	if err != nil {
		return nil
	}
	_, january := time.Date(near.Year(), time.January, 1, 0, 0, 0, 0, zone).Zone()
	_, july := time.Date(near.Year(), time.July, 1, 0, 0, 0, 0, zone).Zone()
	if january == july {
		return nil
	}
	fixed, err := time.LoadLocation(fmt.Sprintf("Etc/GMT%+d", -min(january, july)/3600)) // named by the offset the other way round
	if err != nil || min(january, july)%3600 != 0 {
		return nil
	}
	return fixed
}

func layoutWords(l tabular.Layout) words.Text {
	switch l.Name {
	case "offset":
		return words.Say("with the zone, %s", l.Example)
	case "year":
		return words.Say("year first, %s", l.Example)
	case "day":
		return words.Say("day first, %s", l.Example)
	case "month":
		return words.Say("month first, %s", l.Example)
	case "unix":
		return words.Say("seconds since 1970, %s", l.Example)
	}
	return words.Say("milliseconds since 1970, %s", l.Example)
}

func (i ImportView) columnName(n int) words.Text {
	if n < len(i.Read.Names) && i.Read.Names[n] != "" {
		return words.Plain(i.Read.Names[n])
	}
	return words.Say("Column %d", n+1)
}

// unitChoices are the units in which the quantities can be read.
func (v RunView) unitChoices() (all []parts.Option) {
	seen := map[string]bool{}
	for _, q := range v.Procedure.Quantities {
		for _, u := range unitsLike(q.Unit) {
			if !seen[u] {
				all = append(all, parts.Option{Value: u, Label: words.Plain(measure.Sign(u))})
			}
			seen[u] = true
		}
	}
	return all
}

// foundIn is the value of a reading as the table of a file shows it.
func foundIn(r tabular.Reading) words.Text {
	if r.State != nil {
		if *r.State {
			return words.Say("yes")
		}
		return words.Say("no")
	}
	return withUnit(r.Value, r.Unit)
}

func (i ImportView) bad() []tabular.Bad {
	if i.Done != nil {
		return append(slices.Clone(i.Done.Refused), i.Read.Bad...)
	}
	return i.Read.Bad
}

func (i ImportView) title() words.Text {
	if i.Name == "" {
		return words.Say("In the file")
	}
	return words.Say("In %s", i.Name)
}

// summary says what was found and what was left out.
func (i ImportView) summary() words.Text {
	n := len(i.Read.Readings)
	said := words.Many(n, "%d reading in the time of the run, not stored yet.", "%d readings in the time of the run, not stored yet.")
	var before, repeated words.Text
	if i.Read.Before > 0 {
		before = words.Many(i.Read.Before, "%d row lies before the run was opened and is left out.", "%d rows lie before the run was opened and are left out.")
	}
	if i.Read.Repeated > 0 {
		repeated = words.Many(i.Read.Repeated, "%d row lies in the hour that the clocks show twice.", "%d rows lie in the hour that the clocks show twice.")
	}
	return words.Sentences(said, before, repeated)
}

func (i ImportView) shown() words.Text {
	n := len(i.Read.Readings)
	if n <= shownReadings {
		return words.Say("What is read")
	}
	return words.Say("What is read, the first %d of %d", shownReadings, n)
}
