package commissioning

import "time"

// Logbook is a run as it is judged: settlemark.logbook/1.
type Logbook struct {
	Format    string     `json:"format"`
	Run       LogbookRun `json:"run"`
	Procedure Procedure  `json:"procedure"`
	Entries   []Entry    `json:"entries"`
	At        time.Time  `json:"at,omitzero"`
}

// LogbookRun says which unit and site the entries are about, and what was
// measured with where the run names it.
type LogbookRun struct {
	ID          string       `json:"id"`
	Unit        LogbookUnit  `json:"unit"`
	Site        LogbookSite  `json:"site"`
	OpenedAt    time.Time    `json:"opened_at"`
	Instruments []Instrument `json:"instruments,omitempty"`
}

// LogbookUnit is the unit with the fluid codes it is built for.
type LogbookUnit struct {
	Tag    string `json:"tag"`
	Serial string `json:"serial"`
	Ink    string `json:"ink"`
	Makeup string `json:"makeup"`
}

// LogbookSite is the site with its IANA time zone.
type LogbookSite struct {
	Name     string `json:"name"`
	TimeZone string `json:"time_zone"`
}
