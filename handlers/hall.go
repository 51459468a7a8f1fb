package handlers

import (
	"context"
	"errors"
	"net/http"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/live"
	"settlemark/web/respond"
)

// hallCookie lets a screen in a hall in; it opens nothing else.
const hallCookie = "__Host-settlemark-hall"

// OpenHall takes the link of a screen, once, and leads to an address without it.
func (s *Screens) OpenHall(w http.ResponseWriter, r *http.Request) error {
	screen, cookie, err := s.Acts.OpenHallScreen(r.Context(), r.URL.Query().Get("token"), s.Now())
	if problem.KindOf(err) == problem.Forbidden {
		if _, _, err := s.hallScreen(r); err == nil { // the page that the link opened before
			return respond.Redirect(w, r, urls.HallPattern)
		}
		return hallClosed(w, r, err)
	}
	if err != nil {
		return err
	}
	http.SetCookie(w, &http.Cookie{
		Name: hallCookie, Value: cookie, Path: "/", Expires: screen.ExpiresAt, HttpOnly: true, Secure: true, SameSite: http.SameSiteLaxMode,
	})
	return respond.Redirect(w, r, urls.HallPattern)
}

// ShowHall shows the board of the screen's site, in the site's language, without
// names of people and with nothing to touch.
func (s *Screens) ShowHall(w http.ResponseWriter, r *http.Request) error {
	screen, in, err := s.hallScreen(r)
	if problem.KindOf(err) == problem.Forbidden {
		return hallClosed(w, r, err)
	}
	if err != nil {
		return err
	}
	r = in
	board, err := s.hall(r.Context(), screen.Site)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.HallPage(respond.Frame(r, words.Say("Board"), ""), board))
}

// HallEvents streams the changes of what the screen shows, until it is shut out.
func (s *Screens) HallEvents(w http.ResponseWriter, r *http.Request) error {
	screen, in, err := s.hallScreen(r)
	if problem.KindOf(err) == problem.Forbidden {
		w.WriteHeader(http.StatusUnauthorized)
		return nil
	}
	if err != nil {
		return err
	}
	return s.Live.ServeHall(w, in, screen.Site, live.Watcher{
		Session: "hall " + screen.ID,
		Still: func(ctx context.Context) bool {
			_, err := s.Acts.HallScreen(ctx, hallSecret(r), s.Now())
			return err == nil
		},
	})
}

// HallPieces renders the board of a site for every screen in its halls.
func (s *Screens) HallPieces(ctx context.Context, site commissioning.SiteID) ([]live.Piece, error) {
	board, err := s.hall(ctx, site)
	if err != nil {
		return nil, err
	}
	return rendering(ctx, templates.HallPieces(board))
}

// hall is the board as somebody without a name sees it, who reads one site.
func (s *Screens) hall(ctx context.Context, site commissioning.SiteID) (templates.BoardView, error) {
	reader := commissioning.Person{Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: site}}}
	board, err := s.tiles(ctx, reader, s.Now())
	return board.Sorted().ForHall(), err
}

// hallScreen gives the screen that asks, and its request with the frame and the
// language of its site; Forbidden when it is not let in.
func (s *Screens) hallScreen(r *http.Request) (commissioning.HallScreen, *http.Request, error) {
	screen, err := s.Acts.HallScreen(r.Context(), hallSecret(r), s.Now())
	if err != nil {
		return screen, r, err
	}
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return screen, r, err
	}
	f := hallFrame(r)
	for _, site := range sites {
		if site.ID == screen.Site {
			f.Site = site
		}
	}
	ctx := words.For(respond.WithFrame(r.Context(), f), words.Reader{Language: languageOf(f.Site), Units: f.Site.Units})
	return screen, r.WithContext(ctx), nil
}

// hallFrame is the same whoever is signed in at the browser.
func hallFrame(r *http.Request) templates.Frame {
	f := respond.Frame(r, words.Text{}, "")
	f.Person, f.Trouble, f.Site, f.Bare = nil, words.Text{}, commissioning.Site{}, true
	return f
}

func hallSecret(r *http.Request) string {
	c, err := r.Cookie(hallCookie)
	if err != nil {
		return ""
	}
	return c.Value
}

// hallClosed answers a screen that is not let in, with nothing to touch either.
func hallClosed(w http.ResponseWriter, r *http.Request, err error) error {
	var refusal *problem.Error
	if !errors.As(err, &refusal) {
		return err
	}
	f := hallFrame(r)
	f.Title = words.Say("This screen is closed")
	return respond.HTML(w, r, http.StatusUnauthorized, templates.HallClosed(f, refusal.Sentence))
}
