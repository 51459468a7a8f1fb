package urls

import "settlemark/internal/commissioning"

// Patterns of what lets a tablet work without the server.
const (
	WorkerPattern   = "/sw.js"
	ManifestPattern = "/manifest.webmanifest"
	ClockPattern    = "/clock"
	OfflinePattern  = "/offline" // what is on this tablet; shown, too, where the server can't be reached
)

// PencilPattern takes what a tablet wrote while it was without the server.
const PencilPattern = "/runs/{run}/pencil"

// Pencil takes what a tablet wrote into a run.
func Pencil(id commissioning.RunID) string { return run(id, "/pencil") }

// Patterns of what tablets sent and no run took.
const (
	SetAsidePattern       = "/set-aside"
	SetAsideRecordPattern = "/set-aside/{key}.json" // as it was sent
)

// SetAsideRecord is one record as it was sent.
func SetAsideRecord(key string) string { return SetAsidePattern + "/" + key + ".json" }
