package templates

import (
	"time"

	"settlemark/internal/commissioning"
)

// SetAsideLine is what a tablet sent and no run took.
type SetAsideLine struct {
	Key       string
	Run       commissioning.RunID
	RunNumber commissioning.RunNumber
	Unit      string
	TimeZone  string
	Device    string
	N         int
	Name      string // of its writer
	Why       string
	StoredAt  time.Time
	What      string // kind of the entry, "" when the record can't be read
	Fields    []SentField
}

// SentField is one field of the form, as it was sent.
type SentField struct{ Name, Value string }
