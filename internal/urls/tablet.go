package urls

// Patterns of what lets a tablet work without the server.
const (
	WorkerPattern   = "/sw.js"
	ManifestPattern = "/manifest.webmanifest"
	ClockPattern    = "/clock"
	OfflinePattern  = "/offline" // what is on this tablet; shown, too, where the server can't be reached
)
