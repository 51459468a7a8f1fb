package demo

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

const (
	watching = 4 * time.Second  // how often the simulation looks at the runs
	buffered = 2 * time.Minute  // how far back a gateway sends what it could not send
	busy     = 30 * time.Minute // since a person did something: every check is reported
	quiet    = 5 * time.Minute  // after that, one in so long
	patience = 24 * time.Hour   // after that, nothing: the bench was left
)

// reader reads every run, as quality does; it signs nothing.
var reader = commissioning.Person{Name: "Simulation", Grants: []commissioning.Grant{{Role: commissioning.Quality}}}

// Simulate reports readings for every open run of the demo procedure whose jet
// runs, as the logger of its unit, until the context ends. What it could not
// store it tries again with the next look.
func Simulate(ctx context.Context, acts *act.Acts, d *db.DB, clock func() time.Time) error {
	look := time.NewTicker(watching)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-look.C:
		}
		// A run submitted in the meantime, a busy database: the next look shows.
		if err := Report(ctx, acts, d, clock()); err != nil && ctx.Err() == nil {
			slog.WarnContext(ctx, "simulated readings not stored", "error", err)
		}
	}
}

// Report is one look: it records what the units found since their last report.
func Report(ctx context.Context, acts *act.Acts, d *db.DB, now time.Time) error {
	board, err := d.Board(ctx, reader)
	if err != nil {
		return err
	}
	loggers, err := d.Loggers(ctx)
	if err != nil {
		return err
	}
	var failed []error
	for _, row := range board {
		if row.Run == nil || row.Book == nil || row.Run.State != commissioning.Open || row.Run.Procedure != Procedure {
			continue
		}
		serves := func(l commissioning.Logger) bool { return slices.Contains(l.Units, row.Unit.Tag) }
		i := slices.IndexFunc(loggers, serves)
		readings := due(*row.Book, now)
		if i < 0 || len(readings) == 0 {
			continue
		}
		_, err := acts.Record(ctx, act.Author{Logger: &loggers[i]}, row.Run.ID, readings, now)
		failed = append(failed, err)
	}
	return errors.Join(failed...)
}

// due gives what the unit of a run has found and not reported yet.
func due(book db.Book, now time.Time) []commissioning.Entry {
	m := machineOf(book.Run.ID, book.Unit.Tag, book.Procedure.Procedure)
	jet := jetOf(book.Entries)
	if !jet.runs || now.Sub(jet.touched) > patience {
		return nil
	}
	from := later(later(jet.reported, jet.last), now.Add(-buffered))
	newest := int(now.Sub(jet.first) / m.cadence())
	if now.Sub(jet.touched) > busy {
		if now.Sub(jet.reported) < quiet {
			return nil
		}
		from = jet.first.Add(time.Duration(newest)*m.cadence() - 1)
	}
	var readings []commissioning.Entry
	for check := 1; check <= newest; check++ {
		at := jet.first.Add(time.Duration(check) * m.cadence())
		if !at.After(from) {
			continue
		}
		for _, e := range m.observe(jet.first, jet.last, at) {
			e.ID = uuid.Must(uuid.NewV7()).String()
			readings = append(readings, e)
		}
	}
	return readings
}

// jet is what a logbook says about the jet of its unit.
type jet struct {
	runs        bool
	first, last time.Time // starts
	reported    time.Time // newest reading of a logger
	touched     time.Time // newest entry of a person
}

func jetOf(entries []commissioning.Entry) jet {
	struck, cleared := map[int]bool{}, map[int]bool{}
	for _, e := range entries {
		struck[e.Strikes] = true
	}
	for _, e := range entries {
		if e.Kind == commissioning.KindFaultCleared && !struck[e.Seq] {
			cleared[e.Ref] = true
		}
	}
	var j jet
	var stopped time.Time
	faulty := false
	for _, e := range entries {
		if e.Via == "logger" {
			j.reported = later(j.reported, e.ObservedAt)
		} else {
			j.touched = later(j.touched, e.ObservedAt)
		}
		if struck[e.Seq] {
			continue
		}
		if e.Replacement != nil {
			e.Kind, e.ObservedAt = e.Replacement.Kind, e.Replacement.ObservedAt
		}
		switch e.Kind {
		case commissioning.KindStart:
			if j.first.IsZero() || e.ObservedAt.Before(j.first) {
				j.first = e.ObservedAt
			}
			j.last = later(j.last, e.ObservedAt)
		case commissioning.KindStop:
			stopped = later(stopped, e.ObservedAt)
		case commissioning.KindFault:
			faulty = faulty || !cleared[e.Seq]
		}
	}
	j.runs = !j.last.IsZero() && j.last.After(stopped) && !faulty
	return j
}
