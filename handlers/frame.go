package handlers

import (
	"net/http"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// Framed puts what stands around every screen into the request's context.
func (s *Screens) Framed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f := templates.Frame{Now: s.Now(), Demo: s.Demo, Light: light(r), Path: r.URL.RequestURI()}
		if p, ok := session.Current(r); ok && !session.Locked(r) {
			f.RP = s.rp(r)
			f.Person = &p
			sites, err := s.DB.Sites(r.Context())
			if err != nil {
				respond.Error(w, r, err)
				return
			}
			f.Site = clockSite(p, sites)
			if p.Holds(commissioning.Administrator) || p.Holds(commissioning.Quality) {
				if f.Trouble, err = s.Acts.LogTrouble(r.Context(), f.Now); err != nil {
					respond.Error(w, r, err)
					return
				}
			}
		}
		next.ServeHTTP(w, r.WithContext(respond.WithFrame(r.Context(), f)))
	})
}

// clockSite is the site whose time a person sees where no run says otherwise.
func clockSite(p commissioning.Person, sites []commissioning.Site) commissioning.Site {
	for _, site := range sites {
		for _, g := range p.Grants {
			if g.Site == site.ID {
				return site
			}
		}
	}
	if len(sites) > 0 {
		return sites[0]
	}
	return commissioning.Site{}
}

// actLines gives the acts of consequence that the person may see, newest first.
func (s *Screens) actLines(r *http.Request, filter db.ActFilter) ([]templates.ActLine, error) {
	records, err := s.DB.Acts(r.Context(), session.Person(r), filter)
	if err != nil {
		return nil, err
	}
	var lines []templates.ActLine
	for _, a := range records {
		lines = append(lines, templates.ActLine{At: a.At, Name: a.Name, Act: a.Act, Detail: a.Detail})
	}
	return lines, nil
}
