package commissioning

import "time"

// HallScreen is a screen in the hall that shows the board of its site, without
// what lets it in.
type HallScreen struct {
	ID        string // stands in its link
	Name      string
	Site      SiteID
	MadeAt    time.Time
	ExpiresAt time.Time
	OpenedAt  *time.Time // its link was used
	EndedAt   *time.Time
	UsedAt    *time.Time
}

// StandsAt says whether the screen is let in at an instant.
func (s HallScreen) StandsAt(at time.Time) bool { return s.EndedAt == nil && at.Before(s.ExpiresAt) }
