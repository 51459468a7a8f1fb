package handlers

import (
	"time"

	"settlemark/db"
)

// CSVCell is tested by itself: no page lets every character in.
var CSVCell = csvCell

// TakenAt is tested by itself: no clock of a test reaches every clock change.
var TakenAt = takenAt

// LogbookRows is the table of a logbook, for tests that make up the book.
func LogbookRows(book db.Book, now time.Time) [][]string { return logbookRows(book, now) }

// DecimalField is decimalField, for tests.
var DecimalField = decimalField
