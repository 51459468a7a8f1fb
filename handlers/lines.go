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

// ShowLines lists the production lines.
func (s *Screens) ShowLines(w http.ResponseWriter, r *http.Request) error {
	return showRegister(s, w, r, s.lines())
}

// SaveLine adds or changes a line.
func (s *Screens) SaveLine(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.lines())
}

func (s *Screens) lines() register[commissioning.Line] {
	return register[commissioning.Line]{
		page: templates.RegisterView{
			Title: words.Say("Lines"),
			Add:   words.Say("Add a line"), Change: words.Say("Change this line"), Save: words.Say("Save the line"), None: words.Say("No line yet."),
			URL: urls.LinesPattern, Columns: []words.Text{words.Say("Line"), words.Say("Site")},
			Lead: words.Say("Production lines, on which the marking units stand."),
		},
		place: templates.Lines, read: commissioning.ReadRegisters, manage: commissioning.ManageRegisters,
		fields: []string{"name", "site"},
		list:   s.DB.Lines,
		key:    func(l commissioning.Line) string { return number(l.ID) },
		cells: func(l commissioning.Line, sites []commissioning.Site) []words.Text {
			return plain(l.Name, siteName(l.Site, sites))
		},
		values: func(l commissioning.Line) url.Values {
			return url.Values{"name": {l.Name}, "site": {number(int64(l.Site))}}
		},
		decode: func(form url.Values, stored commissioning.Line) (commissioning.Line, error) {
			if stored.ID != 0 { // it stays where it is
				return commissioning.Line{ID: stored.ID, Site: stored.Site, Name: form.Get("name")}, nil
			}
			site, err := decodeSite(form)
			return commissioning.Line{Site: site, Name: form.Get("name")}, err
		},
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Line) error {
			_, err := s.Acts.SaveLine(ctx, p, v, s.Now())
			return err
		},
		inputs: func(sites []commissioning.Site, changing bool) []parts.Input {
			return namedAtSite(words.Say("Name of the line"), sites, changing)
		},
	}
}
