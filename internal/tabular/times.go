package tabular

import (
	"strconv"
	"strings"
	"time"

	"settlemark/internal/words"
)

// Layout is a way to write a time.
type Layout struct {
	Name    string
	Example string
	Zoned   bool // says itself how far it is from UTC
	forms   []string
}

// Layouts in the order in which they are guessed.
var Layouts = []Layout{
	{"offset", "2026-03-04T14:07:05+01:00", true, []string{
		time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05 Z07:00", "2006-01-02 15:04:05 -0700", "2006-01-02T15:04:05-0700", "2006-01-02T15:04Z07:00",
	}},
	{"year", "2026-03-04 14:07:05", false, dated("2006-1-2", "2006/1/2", "2006.1.2")},
	{"day", "04.03.2026 14:07:05", false, dated("2.1.2006", "2/1/2006", "2-1-2006", "2.1.06", "2/1/06")},
	{"month", "03/04/2026 2:07:05 PM", false, dated("1/2/2006", "1-2-2006", "1/2/06")},
	{"unix", "1772629625", true, nil},
	{"unixms", "1772629625000", true, nil},
}

func dated(days ...string) (all []string) {
	for _, day := range days {
		for _, clock := range []string{" 15:04:05", " 15:04", "T15:04:05", "T15:04", " 3:04:05 PM", " 3:04 PM", " 3:04:05PM", " 3:04PM"} {
			all = append(all, day+clock)
		}
	}
	return all
}

// Seconds since 1970 of the years 2000 to 2100; anything else is some other number.
const firstUnix, lastUnix = 946_684_800, 4_102_444_800

// wall reads a time as it is written: an instant for a layout that is zoned, else
// what the clock on the wall shows, as if that were UTC.
func (l Layout) wall(text string) (time.Time, bool) {
	text = strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
	if l.forms == nil {
		return l.unix(text)
	}
	upper := strings.ToUpper(text)
	for _, form := range l.forms {
		if at, err := time.Parse(form, upper); err == nil && at.Year() >= 2000 && at.Year() <= 2100 {
			return at, true
		}
	}
	return time.Time{}, false
}

func (l Layout) unix(text string) (time.Time, bool) {
	if l.Name == "unixms" {
		ms, err := strconv.ParseInt(text, 10, 64)
		return time.UnixMilli(ms).UTC(), err == nil && ms/1000 >= firstUnix && ms/1000 <= lastUnix
	}
	whole, part, _ := strings.Cut(text, ".")
	s, err := strconv.ParseInt(whole, 10, 64)
	if err != nil || s < firstUnix || s > lastUnix || len(part) > 9 || strings.Trim(part, "0123456789") != "" {
		return time.Time{}, false
	}
	ns, _ := strconv.ParseInt(part+strings.Repeat("0", 9-len(part)), 10, 64)
	return time.Unix(s, ns).UTC(), true
}

// instants are those at which clocks in the zone show what is written: none in
// the hour that a change leaves out, two in the one that it repeats, the earlier
// first.
func instants(wall time.Time, zone *time.Location) (all []time.Time) {
	for _, near := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, offset := wall.Add(near).In(zone).Zone()
		at := wall.Add(-time.Duration(offset) * time.Second)
		if _, there := at.In(zone).Zone(); there == offset && (len(all) == 0 || !all[0].Equal(at)) {
			all = append(all, at)
		}
	}
	if len(all) == 2 && all[1].Before(all[0]) {
		all[0], all[1] = all[1], all[0]
	}
	return all
}

// clock gives the instants of a file's rows, which stand in the order of time.
type clock struct {
	layout   Layout
	zone     *time.Location
	twice    string
	last     time.Time
	repeated int // rows in an hour that comes twice
}

func (c *clock) at(text string) (time.Time, words.Text) {
	wall, ok := c.layout.wall(text)
	if !ok {
		return wall, words.Say("“%s” is no time as the file writes it.", text)
	}
	if c.layout.Zoned {
		return wall.UTC(), words.Text{}
	}
	both := instants(wall, c.zone)
	switch len(both) {
	case 0:
		return wall, words.Say("%s is in the hour that the change of the clocks leaves out.", text)
	case 2:
		c.repeated++
		switch {
		case c.twice == "":
			return wall, words.Say("%s comes twice, because the clocks were set back. Choose which of the two it is.", text)
		case c.twice == TwiceSecond, c.twice == TwiceOrder && both[0].Before(c.last):
			both[0] = both[1]
		}
	}
	c.last = both[0]
	return both[0].UTC(), words.Text{}
}
