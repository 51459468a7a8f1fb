package templates

import "github.com/a-h/templ"

// Piece is one part of a page that changes while it is watched; Name is the id
// of the element that it fills. Nothing in it depends on who looks.
type Piece struct {
	Name string
	Body templ.Component
}
