package web

import (
	"net/http"
	"net/url"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/handlers"
	"settlemark/internal/urls"
	"settlemark/static"
	"settlemark/web/respond"
)

// Plain is what is served without encryption beside https: the pages by which a
// device comes to trust the site's own authority, which it can't see over https
// before. Whoever asks for another page is led to the site's address.
func Plain(s *handlers.Screens, c Config) (http.Handler, error) {
	site, err := url.Parse(s.PublicURL)
	if err != nil {
		return nil, err
	}
	router := chi.NewRouter()
	router.Use(middleware.RequestID, throughProxies(c.Proxies), headers, logged(s.Log, nil, s.Now), recovered(s.Log))
	router.Get(urls.AssetsPattern, static.Handler)
	router.Group(func(pages chi.Router) {
		pages.Use(s.Framed)
		if s.Authority != nil {
			pages.Get(urls.TrustPattern, respond.Page(s.ShowTrust))
			pages.Get(urls.TrustCRTPattern, respond.Page(s.AuthorityCRT))
			pages.Get(urls.TrustPEMPattern, respond.Page(s.AuthorityPEM))
		}
	})
	elsewhere := toHTTPS(site)
	router.NotFound(elsewhere)
	router.MethodNotAllowed(elsewhere)
	return router, nil
}

// toHTTPS leads to the same page at the site's own address: never to the one that
// the request names. What was sent in a form has been readable, so it is refused.
func toHTTPS(site *url.URL) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			http.Error(w, "This address is not encrypted. Open Settlemark at "+site.String()+" and send the form again from there.", http.StatusForbidden)
			return
		}
		to := url.URL{Scheme: site.Scheme, Host: site.Host, Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: r.URL.RawQuery}
		w.Header().Set("Location", to.String())
		w.WriteHeader(http.StatusPermanentRedirect)
	}
}
