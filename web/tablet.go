package web

import (
	"encoding/json"
	"net/http"

	"settlemark/internal/urls"
	"settlemark/static"
)

// worker serves the service worker. It is asked for again at each visit, so
// that switching it off reaches every tablet.
func worker(off bool) http.HandlerFunc {
	script := static.Worker(urls.OfflinePattern)
	if off {
		script = static.Remover()
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		_, _ = w.Write(script) // a reader that went away is no fault of ours
	}
}

// manifest makes the site one that a tablet can install.
func manifest(w http.ResponseWriter, _ *http.Request) {
	icon := func(name, sizes, mediaType, purpose string) map[string]string {
		return map[string]string{"src": static.URL("icons/" + name), "sizes": sizes, "type": mediaType, "purpose": purpose}
	}
	data, err := json.Marshal(map[string]any{
		"id": "/", "name": "Settlemark", "short_name": "Settlemark", "start_url": urls.RunsPattern, "scope": "/",
		"display": "standalone", "background_color": "#E3E8E0", "theme_color": "#14202C",
		"icons": []map[string]string{
			icon("mark.svg", "any", "image/svg+xml", "any"),
			icon("mark-192.png", "192x192", "image/png", "any"),
			icon("mark-512.png", "512x512", "image/png", "any"),
			icon("mark-maskable-512.png", "512x512", "image/png", "maskable"),
		},
	})
	if err != nil {
		panic(err) // strings only
	}
	w.Header().Set("Content-Type", "application/manifest+json")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(data) // a reader that went away is no fault of ours
}
