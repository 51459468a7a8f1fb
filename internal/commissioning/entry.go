package commissioning

import "time"

// Kind of an entry.
type Kind string

const (
	KindStep         Kind = "step"
	KindReading      Kind = "reading"
	KindStart        Kind = "start"
	KindStop         Kind = "stop"
	KindFault        Kind = "fault"
	KindFaultCleared Kind = "fault_cleared"
	KindLoad         Kind = "load"
	KindDrain        Kind = "drain"
	KindEmpty        Kind = "empty"
	KindDisposition  Kind = "disposition"
	KindCorrection   Kind = "correction"
	KindNote         Kind = "note"
	KindPhoto        Kind = "photo"
)

// Entry is one fact of a logbook. Which fields a kind may carry, and must, is
// checked when it is decoded. Decimals are kept as typed, as strings.
type Entry struct {
	Seq        int        `json:"seq,omitempty"`
	Kind       Kind       `json:"kind"`
	ObservedAt time.Time  `json:"observed_at"`
	CapturedAt *time.Time `json:"captured_at,omitempty"`
	ReceivedAt *time.Time `json:"received_at,omitempty"`
	By         string     `json:"by,omitempty"` // person or logger code
	Note       string     `json:"note,omitempty"`

	ID     string `json:"id,omitempty"` // client-made UUIDv7
	Device string `json:"device,omitempty"`
	Via    string `json:"via,omitempty"` // typed, logger, import, scan
	Clock  *Clock `json:"clock,omitempty"`
	Salt   string `json:"salt,omitempty"`

	Step    string `json:"step,omitempty"`
	Outcome string `json:"outcome,omitempty"` // done, not_applicable
	Value   string `json:"value,omitempty"`   // decimal as typed
	Unit    string `json:"unit,omitempty"`
	Text    string `json:"text,omitempty"`
	Choice  string `json:"choice,omitempty"`

	Quantity string `json:"quantity,omitempty"`
	State    *bool  `json:"state,omitempty"`

	Fault string `json:"fault,omitempty"`
	Ref   int    `json:"ref,omitempty"` // seq that a clearing or disposition speaks of
	How   string `json:"how,omitempty"`

	Position     Position `json:"position,omitempty"`
	Fluid        string   `json:"fluid,omitempty"`
	Lot          *string  `json:"lot,omitempty"`     // required on load, may be empty
	Expires      string   `json:"expires,omitempty"` // YYYY-MM-DD
	LevelPercent string   `json:"level_percent,omitempty"`

	Container string `json:"container,omitempty"`
	VolumeML  string `json:"volume_ml,omitempty"`
	Route     string `json:"route,omitempty"`

	Decision string `json:"decision,omitempty"` // accept, reject
	Reason   string `json:"reason,omitempty"`

	Strikes     int    `json:"strikes,omitempty"`
	Replacement *Entry `json:"replacement,omitempty"`

	SHA256    string `json:"sha256,omitempty"`
	MediaType string `json:"media_type,omitempty"`
}

// Clock is what is known of the clock that stamped an entry.
type Clock struct {
	Raw      string `json:"raw,omitempty"`
	OffsetMS *int64 `json:"offset_ms,omitempty"`
	ErrorMS  *int64 `json:"error_ms,omitempty"`
	Proven   *bool  `json:"proven,omitempty"`
}
