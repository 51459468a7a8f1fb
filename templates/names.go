package templates

import (
	"strings"
	"time"

	"settlemark/internal/commissioning"
)

// ActLine is one act of consequence, as pages list it.
type ActLine struct {
	At                time.Time
	Name, Act, Detail string
}

// siteName writes a site of a grant; 0 means every site.
func siteName(id commissioning.SiteID, sites []commissioning.Site) string {
	if id == 0 {
		return "every site"
	}
	for _, s := range sites {
		if s.ID == id {
			return s.Name
		}
	}
	return "a site that is gone"
}

// GrantTicks gives the boxes that are ticked for these grants.
func GrantTicks(grants []commissioning.Grant) []string {
	var out []string
	for _, g := range grants {
		out = append(out, g.Code())
	}
	return out
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
