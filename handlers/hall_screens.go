package handlers

import (
	"net/http"
	"strconv"
	"time"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowHallScreens lists the screens in the halls.
func (s *Screens) ShowHallScreens(w http.ResponseWriter, r *http.Request) error {
	page, err := s.hallScreensPage(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// MakeHallScreen makes a screen and shows its link, in the answer to the form and
// nowhere else.
func (s *Screens) MakeHallScreen(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("name", "site", "days")...)
	if err != nil {
		return err
	}
	screen := commissioning.HallScreen{Name: form.Get("name")}
	token := ""
	if screen.Site, err = decodeSite(form); err == nil {
		days, _ := strconv.Atoi(form.Get("days")) // the act says what is wrong with 0
		token, err = s.Acts.MakeHallScreen(r.Context(), session.Person(r), screen, time.Duration(days)*24*time.Hour, signingOf(form), s.Now())
	}
	if err == nil {
		f := respond.Frame(r, words.Say("New hall screen"), templates.HallScreens)
		return respond.HTML(w, r, http.StatusOK, templates.NewHallScreen(f, screen, urls.HallOpen(s.address(r), token)))
	}
	page, pageErr := s.hallScreensPage(r, parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return s.proofRefused(w, r, err, page)
}

// EndHallScreen shuts a screen out; what it shows goes at once.
func (s *Screens) EndHallScreen(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	if err := s.Acts.EndHallScreen(r.Context(), session.Person(r), chi.URLParam(r, "screen"), s.Now()); err != nil {
		return err
	}
	s.Live.Ask()
	return respond.Redirect(w, r, urls.HallScreensPattern)
}

func (s *Screens) hallScreensPage(r *http.Request, form parts.Form) (templ.Component, error) {
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return nil, err
	}
	v := templates.HallScreensView{Form: form, Sites: siteOptions(sites), Now: s.Now()}
	screens, err := s.DB.HallScreens(r.Context())
	if err != nil {
		return nil, err
	}
	for _, screen := range screens {
		v.Rows = append(v.Rows, templates.HallScreenRow{HallScreen: screen, SiteName: siteName(screen.Site, sites)})
	}
	if v.Proving, err = s.proving(r, act.HallScreenContent(session.Person(r).ID)); err != nil {
		return nil, err
	}
	return templates.HallScreensPage(respond.Frame(r, words.Say("Hall screens"), templates.HallScreens), v), nil
}

// address is the site's own, else the one at which it was asked.
func (s *Screens) address(r *http.Request) string {
	switch {
	case s.PublicURL != "":
		return s.PublicURL
	case session.Way(r) == session.TLS:
		return "https://" + r.Host
	}
	return "http://" + r.Host
}
