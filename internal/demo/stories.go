package demo

import (
	"time"

	"settlemark/internal/commissioning"
)

// story is one run as it went.
type story struct {
	unit, procedure      string
	bench                int // of its site
	engineer, supervisor string
	days                 int           // opened so many days ago, at the hour at the site
	hour                 time.Duration // after the site's midnight
	ago                  time.Duration // or opened so long ago, when not zero
	jet                  time.Duration // first started so long ago, when not zero
	upTo                 string        // the step that waits for its answer, "" when none
	end                  end
	answers              map[string]string // text or choice by step, where the usual one does not fit
	mishaps              []mishap          // in order of time
	returned, recalled   string            // reasons; recalled withdraws all that loaded this run's make-up
	ended                afterwards        // what happened to the unit some time after its release
	verdicts             map[string]string // a supervisor's reason to accept, by kind of fault
	instruments          []string          // codes of those that the run names
	overdue              string            // a supervisor's reason to accept the overdue one
}

// end is how far a run got.
type end int

const (
	underWay end = iota
	submitted
	sentBack
	released
	takenBack // released, then withdrawn with every other use of its make-up lot
)

// afterwards is an event at the unit that ended its certificate.
type afterwards struct {
	later time.Duration // after the release
	kind  commissioning.EventKind
	text  string
}

// mishap is something out of the ordinary. Check counts the unit's own checks
// since its first start.
type mishap struct {
	check int
	what  what
	last  int    // silence: up to this check
	fault string // fault: its kind
	text  string // what was done, or why
}

type what int

const (
	startFault what = iota // logged, cleared, started again
	excursion              // one reading out of tolerance
	silence                // the logger says nothing; one reading is typed in late
	slip                   // a number typed wrong and corrected
)

const hour, minute = time.Hour, time.Minute

// stories in order of time, so that numbers rise with dates.
var stories = []story{
	{
		unit: "BH-01", procedure: "return-to-service", engineer: marit, supervisor: anwen,
		days: 190, hour: 7*hour + 40*minute, end: released,
		mishaps: []mishap{{what: startFault, fault: "pressure", text: "Air let out of the ink line, started again"}},
	},
	{ // valid for 180 days, so it asks to be renewed
		unit: "BH-12", procedure: "return-to-service", engineer: yusuf, supervisor: anwen,
		days: 168, hour: 8*hour + 25*minute, end: released,
		mishaps: []mishap{{what: startFault, fault: "gutter", text: "Gutter line refitted, started again"}},
	},
	{
		unit: "BH-03", procedure: "return-to-service", engineer: marit, supervisor: yusuf,
		days: 38, hour: 8*hour + 5*minute, end: released,
		mishaps: []mishap{{what: startFault, fault: "gutter", text: "Flush fluid blown out of the gutter line, started again"}},
	},
	{
		unit: "BH-05", procedure: "change-of-fluid", bench: 1, engineer: marit, supervisor: anwen,
		days: 24, hour: 7*hour + 30*minute, end: takenBack,
		answers:  map[string]string{"old-code": "E-11", "new-code": "K-20", "compatible": "Makers state that they may mix"},
		recalled: "The make-up lot that was loaded was blocked by incoming goods the day after",
	},
	{
		unit: "BH-09", procedure: "first-commissioning", engineer: yusuf, supervisor: anwen,
		days: 18, hour: 7*hour + 15*minute, end: released,
		mishaps: []mishap{{what: startFault, fault: "pressure", text: "Feed pump bled, started again"}},
		ended:   afterwards{later: 9 * 24 * hour, kind: commissioning.Moved, text: "Carried to the far end of the line, behind the new labeller"},
	},
	{
		unit: "BH-07", procedure: "return-to-service", bench: 1, engineer: marit, supervisor: yusuf,
		days: 11, hour: 8*hour + 20*minute, end: released,
		instruments: []string{"V-12", "T-03"},
		mishaps: []mishap{
			{what: startFault, fault: "pressure", text: "Air let out of the ink line, started again"},
			{what: slip, text: "Last digit left out when it was typed"},
			{check: 14, what: startFault, fault: "charge", text: "Charge tunnel wet from the rinse; dried, started again"},
			{check: 23, what: excursion},
			{check: 28, last: 32, what: silence, text: "Gateway without network; read off the unit, typed when back at the tablet"},
		},
		verdicts: map[string]string{"charge": "Cause found and dried before the hold that counts; none since"},
	},
	{
		unit: "BH-03", procedure: "return-to-service", engineer: marit, supervisor: anwen,
		days: 6, hour: 9*hour + 10*minute, end: released,
		instruments: []string{"V-12", "T-03"},
		overdue:     "Compared with the laboratory's thermometer the same day, 0.1 K apart; T-03 goes to calibration",
	},
	{
		unit: "BH-11", procedure: "return-to-service", bench: 1, engineer: yusuf, supervisor: anwen,
		days: 3, hour: 7*hour + 50*minute, end: released,
		mishaps: []mishap{{check: 20, what: excursion}},
	},
	{
		unit: "BH-02", procedure: "return-to-service", engineer: marit, supervisor: anwen,
		ago: 4*hour + 10*minute, end: submitted,
		instruments: []string{"V-12"},
		mishaps: []mishap{
			{what: startFault, fault: "pressure", text: "Air let out of the ink line, started again"},
			{check: 19, what: excursion},
		},
	},
	{
		unit: "BH-04", procedure: Procedure, bench: 1, engineer: marit, supervisor: yusuf,
		ago: 50 * minute, end: sentBack,
		returned: "The sample photo cuts off the last character. Photograph the whole code again and type it anew.",
	},
	{unit: "BH-08", procedure: Procedure, engineer: marit, ago: 14 * minute, upTo: "drain-2", instruments: []string{"P-08"}},
	{unit: "BH-10", procedure: Procedure, bench: 1, engineer: yusuf, ago: 11 * minute, jet: 150 * time.Second},
	{unit: "BH-06", procedure: Procedure, engineer: marit, ago: 9 * minute, jet: 45 * time.Second, instruments: []string{"V-12", "T-03"}},
}

// slow units settle so many times slower than the others.
var slow = map[string]float64{"BH-06": 3}
