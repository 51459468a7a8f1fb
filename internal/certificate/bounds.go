package certificate

// Bounds of a file that is read at all, every one of them. A logger that
// reports four values a second apart fills some 3 MB of logbook in an hour, and
// the record holds the logbook once more.
const (
	mostBytes    = 20 << 20 // of the file
	mostObjects  = 400      // of the file
	mostUnpacked = 32 << 20 // of one attachment
	mostPage     = 4 << 20  // of any other stream of the file
	mostCMS      = 64 << 10 // of the signature
)
