package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// PersonView is one person as an administrator sees them.
type PersonView struct {
	commissioning.Person
	Sites   []commissioning.Site
	Same    []commissioning.Person // other entries of the same human being
	Acts    []ActLine
	Form    parts.Form
	Proving parts.Proving
}

// Lost are the things for which an administrator makes a one-time code.
var Lost = []parts.Option{
	{Value: "password", Label: words.Say("The password; the second factor is at hand")},
	{Value: "factors", Label: words.Say("The second factor; the password is known")},
	{Value: "both", Label: words.Say("Both")},
}
