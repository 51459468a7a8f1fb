package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/handlers"
	"settlemark/internal/urls"
	"settlemark/static"
	"settlemark/web/respond"
)

const (
	get  = http.MethodGet
	post = http.MethodPost

	formLimit  = 256 << 10
	photoLimit = 12<<20 + 64<<10 // the photo and the form around it
)

// route is one line of the table. Who may do what is asked by the handler.
type route struct {
	method, pattern string
	do              func(http.ResponseWriter, *http.Request) error
	open            bool  // reached without signing in
	limit           int64 // of the body; formLimit when 0
}

// Handler is the whole site.
func Handler(s *handlers.Screens, c Config) http.Handler {
	router := chi.NewRouter()
	router.Use(middleware.RequestID, throughProxies(c.Proxies), headers, logged(s.Log, s.Now), recovered(s.Log))
	router.Get(urls.HealthPattern, respond.Page(s.Health))
	router.Get(urls.AssetsPattern, static.Handler)
	router.Head(urls.AssetsPattern, static.Handler)
	router.Group(func(pages chi.Router) {
		pages.Use(s.Sessions.Load, framed(s), sameSite)
		for _, line := range routes(s) {
			pages.Method(line.method, line.pattern, line.handler())
		}
	})
	missing := func(do http.HandlerFunc) http.HandlerFunc {
		return s.Sessions.Load(framed(s)(do)).ServeHTTP
	}
	router.NotFound(missing(respond.Missing))
	router.MethodNotAllowed(missing(respond.WrongMethod))
	return router
}

func (line route) handler() http.Handler {
	limit := line.limit
	if limit == 0 {
		limit = formLimit
	}
	do := limited(limit, respond.Page(line.do))
	if line.open {
		return do
	}
	return signedIn(do)
}

// routes is the table: every page and every form.
func routes(s *handlers.Screens) []route {
	var all []route
	all = append(all, frameRoutes(s)...)
	all = append(all, runRoutes(s)...)
	all = append(all, reviewRoutes(s)...)
	return all
}

// frameRoutes: who is here, and the registers.
func frameRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.HomePattern, do: s.Home},
		{method: post, pattern: urls.LightPattern, do: s.SwitchLight, open: true},
	}
}

// runRoutes: the engineer's pages.
func runRoutes(s *handlers.Screens) []route {
	return []route{}
}

// reviewRoutes: the board, review and countersignature, certificates.
func reviewRoutes(s *handlers.Screens) []route {
	return []route{}
}
