package templates

import (
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// ChangeView is a page that asks for one proof before it does one thing.
type ChangeView struct {
	Title, Lead, Button words.Text
	Look                string
	Here                Place
	Action, Back        string // where the form goes, and who leaves it as it is
	Hidden              map[string]string
	Field               *parts.Input // one more field, nil for none
	Proving             parts.Proving
	Form                parts.Form
}
