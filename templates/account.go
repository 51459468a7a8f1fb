package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// AccountView is what a person sees of themselves.
type AccountView struct {
	Sites    []commissioning.Site
	Provider string // what people call the site's OpenID provider, "" for none
	Linked   []commissioning.Identity
	Sessions []SessionLine
	Reading  parts.Form // how they read pages
}

// SessionLine is one place where the person is signed in.
type SessionLine struct {
	Device string // as entries from there name it
	Agent  string
	Since  time.Time
	SeenAt time.Time
	Here   bool
}

func (l SessionLine) name() words.Text {
	if l.Agent == "" {
		return words.Say("An unknown device")
	}
	return words.Plain(l.Agent)
}
