package handlers

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// ShowGateways lists what reports the units' own values.
func (s *Screens) ShowGateways(w http.ResponseWriter, r *http.Request) error {
	return showRegister(s, w, r, s.gateways())
}

// SaveGateway adds or changes a gateway.
func (s *Screens) SaveGateway(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.gateways())
}

func (s *Screens) gateways() register[commissioning.Logger] {
	return register[commissioning.Logger]{
		page: templates.RegisterView{
			Title: words.Say("Gateways"),
			Add:   words.Say("Add a gateway"), Change: words.Say("Change this gateway"), Save: words.Say("Save the gateway"), None: words.Say("No gateway yet."),
			URL: urls.GatewaysPattern, Columns: []words.Text{words.Say("Code"), words.Say("Gateway"), words.Say("Units"), words.Say("Reports"), words.Say("Site")},
			Lead: words.Say("What reports the units' own values, so that nobody types them. A gateway is let in by a token; open it to make one."),
		},
		place: templates.Gateways, read: commissioning.ManageRegisters, manage: commissioning.ManageRegisters,
		fields: []string{"name", "units", "quantities", "site"},
		list:   s.loggersOf,
		key:    func(l commissioning.Logger) string { return l.ID },
		url:    func(l commissioning.Logger) string { return urls.Gateway(l.ID) },
		cells: func(l commissioning.Logger, sites []commissioning.Site) []words.Text {
			return append(plain(l.ID, l.Name, strings.Join(l.Units, ", ")), templates.Reports(l), words.Plain(siteName(l.Site, sites)))
		},
		values: func(l commissioning.Logger) url.Values {
			return url.Values{"name": {l.Name}, "units": {strings.Join(l.Units, ", ")}, "quantities": {strings.Join(l.Quantities, ", ")}}
		},
		decode: func(form url.Values, stored commissioning.Logger) (commissioning.Logger, error) {
			l := commissioning.Logger{
				ID: stored.ID, Site: stored.Site, Name: form.Get("name"), Units: withCommas(form.Get("units")), Quantities: withCommas(form.Get("quantities")),
			}
			if stored.ID != "" { // it stays where it is
				return l, nil
			}
			var err error
			l.Site, err = decodeSite(form)
			return l, err
		},
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Logger) error {
			_, err := s.Acts.SaveLogger(ctx, p, v, s.Now())
			return err
		},
		inputs: func(sites []commissioning.Site, changing bool) []parts.Input {
			return append(namedAtSite(words.Say("Name of the gateway"), sites, changing),
				parts.Input{Name: "units", Label: words.Say("Tags of its units"), Hint: words.Say("With commas between them: BH-01, BH-02."), Required: true, Mono: true, MaxLength: 2000},
				parts.Input{Name: "quantities", Label: words.Say("Quantities that it reports"), Hint: words.Say("As procedures name them, with commas: viscosity, temperature. Leave it empty for all."), Mono: true, MaxLength: 400})
		},
	}
}

// loggersOf gives the gateways of the sites whose registers the person keeps.
func (s *Screens) loggersOf(ctx context.Context, p commissioning.Person) ([]commissioning.Logger, error) {
	all, err := s.DB.Loggers(ctx)
	return slices.DeleteFunc(all, func(l commissioning.Logger) bool { return p.May(commissioning.ManageRegisters, l.Site) != nil }), err
}

// withCommas takes a list with commas apart.
func withCommas(text string) []string {
	var all []string
	for word := range strings.SplitSeq(text, ",") {
		if word = strings.TrimSpace(word); word != "" && !slices.Contains(all, word) {
			all = append(all, word)
		}
	}
	return all
}
