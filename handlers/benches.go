package handlers

import (
	"context"
	"net/http"
	"net/url"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// ShowBenches lists the places where units are commissioned.
func (s *Screens) ShowBenches(w http.ResponseWriter, r *http.Request) error {
	return showRegister(s, w, r, s.benches())
}

// SaveBench adds or changes a bench.
func (s *Screens) SaveBench(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.benches())
}

func (s *Screens) benches() register[commissioning.Bench] {
	return register[commissioning.Bench]{
		page: templates.RegisterView{
			Title: words.Say("Benches"),
			Add:   words.Say("Add a bench"), Change: words.Say("Change this bench"), Save: words.Say("Save the bench"), None: words.Say("No bench yet."),
			URL: urls.BenchesPattern, Columns: []words.Text{words.Say("Bench"), words.Say("Site")},
			Lead: words.Say("Places where units are commissioned."),
		},
		place: templates.Benches, read: commissioning.ReadRegisters, manage: commissioning.ManageRegisters,
		fields: []string{"name", "site"},
		list:   s.DB.Benches,
		key:    func(b commissioning.Bench) string { return number(b.ID) },
		cells: func(b commissioning.Bench, sites []commissioning.Site) []words.Text {
			return plain(b.Name, siteName(b.Site, sites))
		},
		values: func(b commissioning.Bench) url.Values {
			return url.Values{"name": {b.Name}, "site": {number(int64(b.Site))}}
		},
		decode: func(form url.Values, stored commissioning.Bench) (commissioning.Bench, error) {
			if stored.ID != 0 { // it stays where it is
				return commissioning.Bench{ID: stored.ID, Site: stored.Site, Name: form.Get("name")}, nil
			}
			site, err := decodeSite(form)
			return commissioning.Bench{Site: site, Name: form.Get("name")}, err
		},
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Bench) error {
			_, err := s.Acts.SaveBench(ctx, p, v, s.Now())
			return err
		},
		inputs: func(sites []commissioning.Site, changing bool) []parts.Input {
			return namedAtSite(words.Say("Name of the bench"), sites, changing)
		},
	}
}
