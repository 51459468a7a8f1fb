package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// ActLine is one act of consequence, as pages list it.
type ActLine struct {
	At     time.Time
	Name   string
	Act    words.Text
	Detail string // as it was stored
}

// siteName writes a site of a grant; 0 means every site.
func siteName(id commissioning.SiteID, sites []commissioning.Site) words.Text {
	if id == 0 {
		return words.Say("every site")
	}
	for _, s := range sites {
		if s.ID == id {
			return words.Plain(s.Name)
		}
	}
	return words.Say("a site that is gone")
}

// GrantTicks gives the boxes that are ticked for these grants.
func GrantTicks(grants []commissioning.Grant) []string {
	var out []string
	for _, g := range grants {
		out = append(out, g.Code())
	}
	return out
}
