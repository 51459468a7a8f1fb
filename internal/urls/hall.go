package urls

import "net/url"

// Patterns of the screens in the halls, and of what such a screen shows.
const (
	HallScreensPattern   = "/screens" // POST makes one
	HallScreenEndPattern = "/screens/{screen}/end"
	HallPattern          = "/hall"
	HallOpenPattern      = "/hall/open" // ?token=, once
	HallEventsPattern    = "/hall/events"
)

// HallScreenEnd shuts a screen out.
func HallScreenEnd(id string) string { return HallScreensPattern + "/" + url.PathEscape(id) + "/end" }

// HallOpen is the link that opens a screen, on the site's own address.
func HallOpen(site, token string) string {
	return site + HallOpenPattern + "?token=" + url.QueryEscape(token)
}
