package commissioning

import "time"

// Opening is what a run was opened on: the unit, the site, the procedure and the
// instruments as they were then. Its canonical JSON is the root of the run's chain, so later
// changes of the registers touch no run.
type Opening struct {
	Run         RunID            `json:"run"`
	OpenedAt    time.Time        `json:"opened_at"`
	OpenedBy    PersonID         `json:"opened_by"`
	Bench       string           `json:"bench"`
	Procedure   OpeningProcedure `json:"procedure"`
	Site        OpeningSite      `json:"site"`
	Unit        OpeningUnit      `json:"unit"`
	Instruments []Instrument     `json:"instruments,omitempty"` // by code
}

// OpeningProcedure names the revision and the hash of its text.
type OpeningProcedure struct {
	Key      string `json:"key"`
	Revision int    `json:"revision"`
	SHA256   string `json:"sha256"`
}

// OpeningSite is the site as it was.
type OpeningSite struct {
	Name     string `json:"name"`
	Address  string `json:"address"`
	TimeZone string `json:"time_zone"`
	Paper    string `json:"paper"`
}

// OpeningUnit is the unit as it was.
type OpeningUnit struct {
	Tag    string `json:"tag"`
	Serial string `json:"serial"`
	Ink    string `json:"ink"`
	Makeup string `json:"makeup"`
	Line   string `json:"line"`
}
