package handlers

import (
	"net/http"
	"net/url"

	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// Account shows a person who they are here and where they are signed in.
func (s *Screens) Account(w http.ResponseWriter, r *http.Request) error {
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return err
	}
	p := session.Person(r)
	linked, err := s.DB.Identities(r.Context(), p.ID)
	if err != nil {
		return err
	}
	open, err := s.DB.SessionsOf(r.Context(), p.ID)
	if err != nil {
		return err
	}
	v := templates.AccountView{Sites: sites, Provider: s.Provider.Label(), Linked: linked, Reading: parts.Form{Values: url.Values{"language": {p.Language}, "units": {p.Units}}}}
	for _, o := range open {
		v.Sessions = append(v.Sessions, templates.SessionLine{
			Device: o.Device, Agent: o.Agent, Since: o.Since, SeenAt: o.SeenAt, Here: o.Device == session.Device(r),
		})
	}
	return respond.HTML(w, r, http.StatusOK, templates.AccountPage(respond.Frame(r, words.Say("Account"), templates.Account), v))
}

// ChooseReading keeps how a person reads pages.
func (s *Screens) ChooseReading(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "language", "units")
	if err != nil {
		return err
	}
	if err := s.Acts.ChooseReading(r.Context(), session.Person(r), form.Get("language"), form.Get("units")); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.AccountPattern)
}
