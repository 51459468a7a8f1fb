package handlers

import (
	"context"
	"net/http"
	"net/url"
	"strconv"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// register is a list of master data with a form under it, by which a line is
// added or changed. Fluids, lines, benches and sites are registers.
type register[T any] struct {
	page   templates.RegisterView // title, words, columns, address
	place  templates.Place
	read   commissioning.Action
	manage commissioning.Action
	fields []string // of the form, besides "key"
	list   func(ctx context.Context, p commissioning.Person) ([]T, error)
	key    func(T) string
	url    func(T) string // of a page of its own; nil where lines have none
	cells  func(T, []commissioning.Site) []words.Text
	values func(T) url.Values
	decode func(form url.Values, stored T) (T, error) // stored is zero for a new line
	save   func(ctx context.Context, p commissioning.Person, v T) error
	inputs func(sites []commissioning.Site, changing bool) []parts.Input
}

// showRegister lists the register, with one line open for change when asked.
func showRegister[T any](s *Screens, w http.ResponseWriter, r *http.Request, reg register[T]) error {
	p := session.Person(r)
	if err := p.MayAnywhere(reg.read); err != nil {
		return err
	}
	rows, err := reg.list(r.Context(), p)
	if err != nil {
		return err
	}
	form, key := parts.Form{}, r.URL.Query().Get("change")
	if key != "" {
		stored, ok := find(rows, reg.key, key)
		if !ok {
			return problem.New(problem.NotFound, "There is no %q here that you may change. Choose one from the list.", key)
		}
		form.Values = reg.values(stored)
	}
	page, err := registerPage(s, r, reg, rows, form, key)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// saveRegister adds a line, or changes the one that the form names.
func saveRegister[T any](s *Screens, w http.ResponseWriter, r *http.Request, reg register[T]) error {
	p := session.Person(r)
	if err := p.MayAnywhere(reg.manage); err != nil {
		return err
	}
	form, err := decodeForm(r, append([]string{"key"}, reg.fields...)...)
	if err != nil {
		return err
	}
	rows, err := reg.list(r.Context(), p)
	if err != nil {
		return err
	}
	var stored T
	key := form.Get("key")
	if key != "" {
		var ok bool
		if stored, ok = find(rows, reg.key, key); !ok {
			return problem.New(problem.NotFound, "There is no %q here that you may change. Choose one from the list.", key)
		}
	}
	v, err := reg.decode(form, stored)
	if _, taken := find(rows, reg.key, reg.key(v)); err == nil && key == "" && taken {
		err = problem.On(reg.fields[0], "There is one like this already. Change that one, or call this one otherwise.")
	}
	if err == nil {
		err = reg.save(r.Context(), p, v)
	}
	if err == nil {
		return respond.Redirect(w, r, reg.page.URL)
	}
	page, pageErr := registerPage(s, r, reg, rows, parts.Form{Values: form, Err: err}, key)
	if pageErr != nil {
		return pageErr
	}
	return respond.Refused(w, r, err, page)
}

func registerPage[T any](s *Screens, r *http.Request, reg register[T], rows []T, form parts.Form, key string) (templ.Component, error) {
	p := session.Person(r)
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return nil, err
	}
	v := reg.page
	v.MayChange = p.MayAnywhere(reg.manage) == nil
	v.Form, v.Key = form, key
	v.Inputs = reg.inputs(sitesFor(p, reg.manage, sites), key != "")
	for _, row := range rows {
		line := templates.RegisterRow{Key: reg.key(row), Cells: reg.cells(row, sites)}
		if reg.url != nil {
			line.URL = reg.url(row)
		}
		v.Rows = append(v.Rows, line)
	}
	return templates.Register(respond.Frame(r, v.Title, reg.place), v), nil
}

func find[T any](rows []T, key func(T) string, want string) (T, bool) {
	for _, row := range rows {
		if key(row) == want {
			return row, true
		}
	}
	var none T
	return none, false
}

// sitesFor gives the sites at which the person may do it.
func sitesFor(p commissioning.Person, a commissioning.Action, sites []commissioning.Site) []commissioning.Site {
	var out []commissioning.Site
	for _, site := range sites {
		if p.May(a, site.ID) == nil {
			out = append(out, site)
		}
	}
	return out
}

func siteOptions(sites []commissioning.Site) []parts.Option {
	out := []parts.Option{}
	for _, s := range sites {
		out = append(out, parts.Option{Value: strconv.FormatInt(int64(s.ID), 10), Label: words.Plain(s.Name)})
	}
	return out
}

func siteName(id commissioning.SiteID, sites []commissioning.Site) string {
	for _, s := range sites {
		if s.ID == id {
			return s.Name
		}
	}
	return ""
}

// decodeSite reads the chosen site.
func decodeSite(form url.Values) (commissioning.SiteID, error) {
	id, err := strconv.ParseInt(form.Get("site"), 10, 64)
	if err != nil || id < 1 {
		return 0, problem.On("site", "Choose the site.")
	}
	return commissioning.SiteID(id), nil
}

// namedAtSite is the form of what has a name and a site for ever.
func namedAtSite(label words.Text, sites []commissioning.Site, changing bool) []parts.Input {
	inputs := []parts.Input{{Name: "name", Label: label, Required: true, MaxLength: 60}}
	if !changing {
		inputs = append(inputs, parts.Input{Name: "site", Label: words.Say("Site"), Required: true, Options: siteOptions(sites)})
	}
	return inputs
}

// plain are cells of what has no language.
func plain(cells ...string) []words.Text {
	var all []words.Text
	for _, cell := range cells {
		all = append(all, words.Plain(cell))
	}
	return all
}

func number(id int64) string { return strconv.FormatInt(id, 10) }
