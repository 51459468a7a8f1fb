package web

import (
	"net/http"

	"settlemark/handlers"
	"settlemark/internal/commissioning"
)

// Route is one line of the table, for tests that walk all of it.
type Route struct {
	Method, Pattern string
	Open, Public    bool
	Lagging         bool
	Action          commissioning.Action // "" when the table does not know the route
}

// Routes gives the whole table.
func Routes(s *handlers.Screens) []Route {
	var all []Route
	for _, line := range routes(s) {
		all = append(all, Route{line.method, line.pattern, line.open || line.public, line.public, line.lagging, actions[line.method+line.pattern]})
	}
	return all
}

// Broken serves one handler behind everything that stands before the pages.
func Broken(s *handlers.Screens, do http.HandlerFunc) http.Handler {
	return headers(recovered(s.Log)(do))
}
