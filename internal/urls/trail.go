package urls

import (
	"net/url"
	"strconv"

	"settlemark/internal/commissioning"
)

// Patterns of the audit trail.
const (
	TrailPattern     = "/trail"
	TrailCSVPattern  = "/trail.csv"
	TrailJSONPattern = "/trail.json"
	ClausesPattern   = "/clauses"

	TrailProofPattern = "/trail/{line}/proof" // that the log tells of this line
)

// RunTrail is the trail of one run.
func RunTrail(n commissioning.RunNumber) string { return TrailPattern + "?run=" + n.String() }

// TrailProof is the proof that the log tells of a line of the trail.
func TrailProof(id string) string { return TrailPattern + "/" + url.PathEscape(id) + "/proof" }

// UnitTrail is the trail of one unit.
func UnitTrail(tag string) string { return TrailPattern + "?unit=" + url.QueryEscape(tag) }

// LogbookEntry is the logbook at one entry.
func LogbookEntry(id commissioning.RunID, seq int) string {
	n := strconv.Itoa(seq)
	return Logbook(id) + "?entry=" + n + "#entry-" + n
}

// LogbookPage is one page of the logbook, counted from 1.
func LogbookPage(id commissioning.RunID, page int) string {
	return Logbook(id) + "?page=" + strconv.Itoa(page)
}

// WholeLogbook is the logbook on one page.
func WholeLogbook(id commissioning.RunID) string { return Logbook(id) + "?all=yes" }
