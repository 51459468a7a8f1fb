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

// ShowSites lists the sites, and says to administrators what the database promises.
func (s *Screens) ShowSites(w http.ResponseWriter, r *http.Request) error {
	settings, err := s.DB.Durability(r.Context())
	if err != nil {
		return err
	}
	sites := s.sites()
	sites.page.Beside = settings.Grade().Promise()
	return showRegister(s, w, r, sites)
}

// SaveSite adds or changes a site.
func (s *Screens) SaveSite(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.sites())
}

func (s *Screens) sites() register[commissioning.Site] {
	return register[commissioning.Site]{
		page: templates.RegisterView{
			Title: words.Say("Sites"),
			Add:   words.Say("Add a site"), Change: words.Say("Change this site"), Save: words.Say("Save the site"), None: words.Say("No site yet."),
			URL: urls.SitesPattern, Columns: []words.Text{words.Say("Site"), words.Say("Address"), words.Say("Time zone"), words.Say("Paper"), words.Say("Language")},
			Lead: words.Say("Every time on a page or a certificate is written in the time of its site."),
		},
		place: templates.Sites, read: commissioning.ManageSites, manage: commissioning.ManageSites,
		fields: []string{"name", "address", "time_zone", "paper", "language", "units"},
		list: func(ctx context.Context, _ commissioning.Person) ([]commissioning.Site, error) {
			return s.DB.Sites(ctx)
		},
		key: func(v commissioning.Site) string { return number(int64(v.ID)) },
		cells: func(v commissioning.Site, _ []commissioning.Site) []words.Text {
			return plain(v.Name, v.Address, v.TimeZone, v.Paper, languageOf(v).Name())
		},
		values: func(v commissioning.Site) url.Values {
			return url.Values{"name": {v.Name}, "address": {v.Address}, "time_zone": {v.TimeZone}, "paper": {v.Paper}, "language": {string(languageOf(v))}, "units": {v.Units}}
		},
		decode: func(form url.Values, stored commissioning.Site) (commissioning.Site, error) {
			return commissioning.Site{
				ID: stored.ID, Demo: stored.Demo, Name: form.Get("name"), Address: form.Get("address"),
				TimeZone: form.Get("time_zone"), Paper: form.Get("paper"), Language: form.Get("language"), Units: form.Get("units"),
			}, nil
		},
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Site) error {
			_, err := s.Acts.SaveSite(ctx, p, v, s.Now())
			return err
		},
		inputs: func([]commissioning.Site, bool) []parts.Input {
			return []parts.Input{
				{Name: "name", Label: words.Say("Name"), Required: true, MaxLength: 80},
				{Name: "address", Label: words.Say("Address, as it stands on certificates"), Required: true, MaxLength: 200, Rows: 3},
				{Name: "time_zone", Label: words.Say("Time zone"), Hint: words.Say("By its place name, such as Europe/Dublin or America/Chicago."), Required: true, Mono: true, MaxLength: 60},
				{Name: "paper", Label: words.Say("Paper for certificates"), Required: true, Options: []parts.Option{{Value: "A4", Label: words.Plain("A4")}, {Value: "Letter", Label: words.Plain("Letter")}}},
				{Name: "language", Label: words.Say("Language of certificates, and of people who chose none"), Required: true, Options: parts.Languages()},
				{Name: "units", Label: words.Say("Local units in brackets, for people who chose none"), Options: parts.LocalUnits()},
			}
		},
	}
}
