package commissioning

import "time"

// LotLoad is one entry that put a fluid lot into a unit, in whatever run and
// whatever became of the run or of the entry.
type LotLoad struct {
	Run         RunID
	RunNumber   RunNumber
	State       State
	Returned    bool // open again after a return
	Unit        string
	Site        SiteID
	SiteName    string
	TimeZone    string
	Line        string
	Seq         int
	LoadedAt    time.Time
	Position    Position
	Fluid       string
	Lot         string // as typed
	Corrected   bool   // it stands by a correction of what was typed first
	StruckBy    int    // seq of the correction that struck it, 0 while it stands
	StruckFor   string
	Certificate CertificateNumber // "" without a release
}

// Stands says whether the record still says that the lot was put in.
func (l LotLoad) Stands() bool { return l.StruckBy == 0 }
