package handlers

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// ShowInstruments lists what the sites measure with.
func (s *Screens) ShowInstruments(w http.ResponseWriter, r *http.Request) error {
	return showRegister(s, w, r, s.instruments())
}

// SaveInstrument adds or changes an instrument.
func (s *Screens) SaveInstrument(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.instruments())
}

func (s *Screens) instruments() register[commissioning.Instrument] {
	return register[commissioning.Instrument]{
		page: templates.RegisterView{
			Title: words.Say("Instruments"),
			Add:   words.Say("Add an instrument"), Change: words.Say("Change this instrument"), Save: words.Say("Save the instrument"), None: words.Say("No instrument yet."),
			URL:     urls.InstrumentsPattern,
			Columns: []words.Text{words.Say("Code"), words.Say("Instrument"), words.Say("Serial"), words.Say("Expanded uncertainty"), words.Say("Calibration due"), words.Say("Site")},
			Lead:    words.Say("What a site measures with, as its calibration certificate has it. The due day itself still counts."),
		},
		place: templates.Instruments, read: commissioning.ReadRegisters, manage: commissioning.ManageRegisters,
		fields: []string{"code", "name", "serial", "quantity", "uncertainty", "unit", "k", "due", "site"},
		list:   s.DB.Instruments,
		key:    func(i commissioning.Instrument) string { return number(i.ID) },
		cells: func(i commissioning.Instrument, sites []commissioning.Site) []words.Text {
			return []words.Text{
				words.Plain(i.Code), words.Say("%s, %s", i.Name, i.QuantityName()), words.Plain(i.Serial), parts.Signs(i.UncertaintyInWords()),
				s.dueWords(i, sites), words.Plain(siteName(i.Site, sites)),
			}
		},
		values: func(i commissioning.Instrument) url.Values {
			return url.Values{
				"name": {i.Name}, "serial": {i.Serial}, "quantity": {string(i.Quantity)}, "uncertainty": {i.Uncertainty},
				"unit": {i.Unit}, "k": {i.K}, "due": {i.Due},
			}
		},
		decode: decodeInstrument,
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Instrument) error {
			_, err := s.Acts.SaveInstrument(ctx, p, v, s.Now())
			return err
		},
		inputs: instrumentInputs,
	}
}

// dueWords says in words that a calibration has run out.
func (s *Screens) dueWords(i commissioning.Instrument, sites []commissioning.Site) words.Text {
	if s.overdue(i, sites) {
		return words.Say("%s, overdue", i.Due)
	}
	return words.Plain(i.Due)
}

// overdue goes by the day of the instrument's own site.
func (s *Screens) overdue(i commissioning.Instrument, sites []commissioning.Site) bool {
	zone := time.UTC
	for _, site := range sites {
		if loaded, err := time.LoadLocation(site.TimeZone); err == nil && site.ID == i.Site {
			zone = loaded
		}
	}
	return i.Overdue(s.Now(), zone)
}

// instrumentsFor gives the instruments of the sites where the person may open a
// run, site by site.
func (s *Screens) instrumentsFor(ctx context.Context, p commissioning.Person, sites []commissioning.Site) ([]templates.StartInstruments, error) {
	all, err := s.DB.Instruments(ctx, p)
	var groups []templates.StartInstruments
	for _, i := range all {
		if p.May(commissioning.OpenRun, i.Site) != nil {
			continue
		}
		if name := siteName(i.Site, sites); len(groups) == 0 || groups[len(groups)-1].Site != name {
			groups = append(groups, templates.StartInstruments{Site: name})
		}
		last := &groups[len(groups)-1]
		last.Choices = append(last.Choices, templates.StartInstrument{
			ID: number(i.ID), Code: i.Code, What: words.Say("%s, %s", i.Name, i.QuantityName()), Due: s.dueWords(i, sites), Overdue: s.overdue(i, sites),
		})
	}
	return groups, err
}

// decodeInstrument leaves site and code of a stored one as they are.
func decodeInstrument(form url.Values, stored commissioning.Instrument) (commissioning.Instrument, error) {
	i := commissioning.Instrument{
		ID: stored.ID, Site: stored.Site, Code: stored.Code, Name: form.Get("name"), Serial: form.Get("serial"),
		Quantity: measure.Kind(form.Get("quantity")), Uncertainty: form.Get("uncertainty"), Unit: form.Get("unit"), K: form.Get("k"), Due: form.Get("due"),
	}
	if stored.ID != 0 {
		return i, nil
	}
	i.Code = form.Get("code")
	site, err := decodeSite(form)
	i.Site = site
	return i, err
}

func instrumentInputs(sites []commissioning.Site, changing bool) []parts.Input {
	var inputs []parts.Input
	if !changing {
		inputs = append(inputs,
			parts.Input{Name: "code", Label: words.Say("Code, as it stands on the instrument"), Required: true, Mono: true, MaxLength: 24},
			parts.Input{Name: "site", Label: words.Say("Site"), Required: true, Options: siteOptions(sites)})
	}
	kinds, units := []parts.Option{}, []parts.Option{{Value: commissioning.PercentOfValue, Label: words.Say("% of the value")}}
	for _, kind := range []measure.Kind{measure.Viscosity, measure.Temperature, measure.Pressure, measure.Volume} {
		kinds = append(kinds, parts.Option{Value: string(kind), Label: commissioning.KindName(kind)})
		for _, unit := range measure.UnitsOf(kind) {
			units = append(units, parts.Option{Value: unit, Label: words.Plain(measure.Sign(unit))})
		}
	}
	return append(inputs,
		parts.Input{Name: "name", Label: words.Say("What it is"), Required: true, MaxLength: 80},
		parts.Input{Name: "serial", Label: words.Say("Serial number"), Required: true, Mono: true, MaxLength: 60},
		parts.Input{Name: "quantity", Label: words.Say("What it measures"), Required: true, Options: kinds},
		parts.Input{Name: "uncertainty", Label: words.Say("Expanded uncertainty"), Hint: words.Say("As its calibration certificate has it."), Mode: "decimal", Required: true, MaxLength: 20},
		parts.Input{Name: "unit", Label: words.Say("Unit of the uncertainty"), Required: true, Options: units},
		parts.Input{Name: "k", Label: words.Say("Coverage factor k"), Hint: words.Say("2 on most certificates."), Mode: "decimal", Required: true, MaxLength: 10},
		parts.Input{Name: "due", Label: words.Say("Calibration due"), Hint: words.Say("The last day on which it stands, such as 2026-11-30."), Required: true, Mono: true, MaxLength: 10},
	)
}
