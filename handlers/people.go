package handlers

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowPeople lists everybody, for administrators.
func (s *Screens) ShowPeople(w http.ResponseWriter, r *http.Request) error {
	page, err := s.peoplePage(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// AddPerson adds somebody and shows the one-time code, once.
func (s *Screens) AddPerson(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("name", "login", "roles")...)
	if err != nil {
		return err
	}
	added, code, err := s.addPerson(r, form)
	if err != nil {
		page, pageErr := s.peoplePage(r, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return s.proofRefused(w, r, err, page)
	}
	return s.showCode(w, r, added, code)
}

func (s *Screens) addPerson(r *http.Request, form url.Values) (commissioning.Person, string, error) {
	grants, err := decodeGrants(form["roles"])
	if err != nil {
		return commissioning.Person{}, "", err
	}
	somebody := act.NewPerson{Name: form.Get("name"), Login: form.Get("login"), Grants: grants}
	return s.Acts.AddPerson(r.Context(), session.Person(r), somebody, signingOf(form), s.Now())
}

// showCode shows a one-time code. It is shown by the answer to the form and
// nowhere else, so it stands in no address and no log.
func (s *Screens) showCode(w http.ResponseWriter, r *http.Request, p commissioning.Person, code string) error {
	return respond.HTML(w, r, http.StatusOK, templates.InviteCode(respond.Frame(r, words.Say("One-time code"), templates.People), p, code))
}

func (s *Screens) peoplePage(r *http.Request, form parts.Form) (templ.Component, error) {
	if err := session.Person(r).MayAnywhere(commissioning.ManagePeople); err != nil {
		return nil, err
	}
	people, err := s.DB.People(r.Context())
	if err != nil {
		return nil, err
	}
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return nil, err
	}
	proving, err := s.proving(r, act.AdditionContent(), "name", "login", "roles")
	if err != nil {
		return nil, err
	}
	return templates.PeopleList(respond.Frame(r, words.Say("People"), templates.People), people, sites, form, proving), nil
}

// decodeGrants reads ticks such as "engineer:2"; site 0 is every site.
func decodeGrants(ticks []string) ([]commissioning.Grant, error) {
	var grants []commissioning.Grant
	for _, tick := range ticks {
		role, site, ok := strings.Cut(tick, ":")
		id, err := strconv.ParseInt(site, 10, 64)
		if !ok || err != nil || id < 0 {
			return nil, problem.On("roles", "A role can't be read. Reload the page and tick the roles again.")
		}
		grants = append(grants, commissioning.Grant{Role: commissioning.Role(role), Site: commissioning.SiteID(id)})
	}
	return grants, nil
}
