package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// perLogbookPage is how many entries one page of the logbook shows.
const perLogbookPage = 100

// LogbookPages says which part of a logbook is shown.
type LogbookPages struct {
	Total int
	Page  int  // from 1; 0 or beyond the end is the last
	All   bool // everything on one page, to print it
}

// PageOfEntry is the page that shows the entry.
func PageOfEntry(seq int) int { return (seq-1)/perLogbookPage + 1 }

func (p LogbookPages) count() int { return max(1, (p.Total+perLogbookPage-1)/perLogbookPage) }

func (p LogbookPages) page() int {
	if p.Page < 1 || p.Page > p.count() {
		return p.count()
	}
	return p.Page
}

// of gives the entries of this page.
func (p LogbookPages) of(entries []commissioning.Entry) []commissioning.Entry {
	if p.All {
		return entries
	}
	first := (p.page() - 1) * perLogbookPage
	return entries[first:min(first+perLogbookPage, len(entries))]
}

// words say which entries these are.
func (p LogbookPages) words() words.Text {
	first := (p.page() - 1) * perLogbookPage
	return words.Say("Entries %d to %d of %d", first+1, min(first+perLogbookPage, p.Total), p.Total)
}

func entryCount(n int) words.Text { return words.Many(n, "%d entry", "%d entries") }
