package urls

import "net/url"

// Patterns of what happens to a certificate after its release.
const (
	UnitEventsPattern = "/units/{tag}/events"
	RecallPattern     = "/recall"
	RecallCSVPattern  = "/recall.csv"
)

// UnitEvents is the page on which an event at a unit is recorded.
func UnitEvents(tag string) string { return Unit(tag) + "/events" }

// Recall is the search for a lot of a fluid.
func Recall(fluid, lot string) string { return RecallPattern + "?" + lotQuery(fluid, lot) }

// RecallCSV is what the search for a lot found, as a table.
func RecallCSV(fluid, lot string) string { return RecallCSVPattern + "?" + lotQuery(fluid, lot) }

// Recalled is the search again after certificates were withdrawn for the lot.
func Recalled(fluid, lot, key string) string {
	return Recall(fluid, lot) + "&done=" + url.QueryEscape(key)
}

func lotQuery(fluid, lot string) string { return url.Values{"fluid": {fluid}, "lot": {lot}}.Encode() }
