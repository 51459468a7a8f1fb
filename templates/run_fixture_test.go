package templates_test

import (
	"fmt"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/templates"
)

// story is a run on paper: entries at minutes after the opening at 11:30.
type story struct {
	t       testing.TB
	p       commissioning.Procedure
	opened  time.Time
	entries []commissioning.Entry
}

var dublin = func() *time.Location {
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	return zone
}()

func tell(t testing.TB) *story {
	t.Helper()
	all, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, yaml := range all {
		p, err := commissioning.ParseProcedure(yaml)
		if err != nil {
			t.Fatal(err)
		}
		if p.Key == "return-to-service" {
			return &story{t: t, p: p, opened: time.Date(2026, 11, 24, 11, 30, 0, 0, time.UTC)}
		}
	}
	t.Fatal("no procedure of that key")
	return nil
}

func (s *story) at(minute float64) time.Time {
	return s.opened.Add(time.Duration(minute * float64(time.Minute)))
}

// add puts an entry at a minute; the seq is the next one.
func (s *story) add(minute float64, e commissioning.Entry) *story {
	at := s.at(minute)
	e.Seq, e.ObservedAt, e.By = len(s.entries)+1, at, "P-0004"
	if e.CapturedAt == nil {
		e.CapturedAt = &at
	}
	if e.ReceivedAt == nil {
		e.ReceivedAt = &at
	}
	if e.Via == "" {
		e.Via = "typed"
	}
	s.entries = append(s.entries, e)
	return s
}

// until answers every line before the section of that title, a minute each.
func (s *story) until(title string) *story {
	minute := 2.0
	for _, section := range s.p.Sections {
		if section.Title == title {
			return s
		}
		for _, step := range section.Steps {
			if step.Ask != commissioning.AskGate {
				s.answer(minute, step)
				minute += 2
			}
		}
	}
	return s
}

func (s *story) answer(minute float64, step commissioning.Step) {
	e := commissioning.Entry{Kind: commissioning.KindStep, Step: step.ID, Outcome: commissioning.Done}
	switch step.Ask {
	case commissioning.AskText, commissioning.AskSample:
		e.Text = "BP-118"
	case commissioning.AskChoice:
		e.Choice = step.Options[0]
	case commissioning.AskValue:
		e.Value, e.Unit = "301", "kPa"
	case commissioning.AskDrain:
		e = commissioning.Entry{Kind: commissioning.KindDrain, Step: step.ID, Container: step.Container, VolumeML: "205"}
	case commissioning.AskLoad:
		lot, code := "5521", "K-20M"
		if step.Fluid == "ink" {
			code = "K-20"
		}
		e = commissioning.Entry{Kind: commissioning.KindLoad, Step: step.ID, Position: step.Position, Fluid: code, Lot: &lot, Expires: "2027-05-01", LevelPercent: "90"}
	case commissioning.AskStart:
		e = commissioning.Entry{Kind: commissioning.KindStart, Step: step.ID}
	case commissioning.AskPhoto:
		e = commissioning.Entry{Kind: commissioning.KindPhoto, Step: step.ID, SHA256: fmt.Sprintf("%064d", 1), MediaType: "image/jpeg"}
	}
	s.add(minute, e)
}

// read adds readings of the unit every third minute from a minute on, each
// with the ready state beside it.
func (s *story) read(minute float64, values ...string) *story {
	yes := true
	for i, v := range values {
		if v == "" {
			continue
		}
		at := minute + 3*float64(i)
		s.add(at, commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: v, Unit: "mPa.s", Via: "logger"})
		s.add(at, commissioning.Entry{Kind: commissioning.KindReading, Quantity: "ready", State: &yes, Via: "logger"})
	}
	return s
}

func (s *story) fault(minute float64, kind string) int {
	s.add(minute, commissioning.Entry{Kind: commissioning.KindFault, Fault: kind, Note: "right after the start"})
	return len(s.entries)
}

func (s *story) cleared(minute float64, ref int) *story {
	return s.add(minute, commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: ref, How: "bled the line"})
}

// view judges the story at a minute, as the pen holder sees it.
func (s *story) view(minute float64) templates.RunView {
	ada := &commissioning.Person{ID: "P-0004", Name: "Ada Brannock", Login: "ada", Grants: []commissioning.Grant{{Role: commissioning.Engineer, Site: 1}}}
	n := 0
	v := templates.RunView{
		Run: commissioning.Run{
			ID: "019a0000-0000-7000-8000-000000000001", Number: 41, Unit: "BH-14", Site: 1, Line: "Line 3", Bench: "Bench 2",
			Procedure: s.p.Key, Revision: s.p.Revision, State: commissioning.Open, Round: 1, Seq: len(s.entries),
			Head: make([]byte, 32), OpenedAt: s.opened, OpenedBy: "P-0004", Pen: "P-0004",
		},
		Unit: commissioning.Unit{Tag: "BH-14", Serial: "BP-118", Ink: "K-20", Makeup: "K-20M", Line: "Line 3", Site: 1},
		Site: commissioning.Site{ID: 1, Name: "Brackenhill", TimeZone: "Europe/Dublin"},
		Zone: dublin, Procedure: s.p, Entries: s.entries, Names: map[string]string{"P-0004": "Ada Brannock", "P-0005": "Tom Ferrier"},
		Now: s.at(minute), Viewer: ada,
		NewID: func() string { n++; return fmt.Sprintf("id-%d", n) },
	}
	v.Exam = rules.Examine(v.Logbook(), v.Now)
	v.Section = min(v.Here(), len(s.p.Sections)-1)
	return v
}

// soaking is the story of the pictures: two faults at the start, one check
// missed, one out of band, then 36 minutes of hold.
func soaking(t testing.TB) *story {
	s := tell(t).until("Settle")
	gutter := s.fault(63, "gutter")
	s.cleared(66, gutter)
	s.add(67, commissioning.Entry{Kind: commissioning.KindStart})
	s.read(72, "5.71", "5.62", "5.47", "", "5.20", "4.94", "5.10", "5.05", "4.90", "4.85", "4.82", "4.78", "4.75",
		"4.70", "4.66", "4.60", "4.55", "4.48", "4.40", "4.32", "4.20", "4.00")
	return s.read(138, "4.12", "4.25", "4.33", "4.38", "4.43", "4.47", "4.50", "4.47", "4.45", "4.44", "4.46", "4.45", "4.43")
}
