package handlers

import (
	"net/http"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// Framed puts what stands around every screen into the request's context.
func (s *Screens) Framed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f := templates.Frame{Now: s.Now(), Demo: s.Demo, Weak: s.Weak, Light: light(r), Path: r.URL.RequestURI()}
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
		reader := words.Reader{Language: language(r, f), Units: localUnits(f)}
		next.ServeHTTP(w, r.WithContext(words.For(respond.WithFrame(r.Context(), f), reader)))
	})
}

// language is the person's own, else that of their site; of somebody who is not
// signed in it is what their browser asks for.
func language(r *http.Request, f templates.Frame) words.Language {
	if f.Person == nil {
		return words.Preferred(r.Header.Get("Accept-Language"))
	}
	if own, known := words.Known(f.Person.Language); known {
		return own
	}
	return languageOf(f.Site)
}

// localUnits are the person's own choice, else that of their site.
func localUnits(f templates.Frame) string {
	if f.Person != nil && f.Person.Units != "" {
		return f.Person.Units
	}
	return f.Site.Units
}

// languageOf a site is English unless it chose another.
func languageOf(site commissioning.Site) words.Language {
	if chosen, known := words.Known(site.Language); known {
		return chosen
	}
	return words.English
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
		lines = append(lines, templates.ActLine{At: a.At, Name: a.Name, Act: templates.ActName(a.Act), Detail: a.Detail})
	}
	return lines, nil
}
