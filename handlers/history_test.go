package handlers_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/handlers"
	"settlemark/internal/commissioning"
)

// From any history of readings, remarks and corrections of corrections, the
// first value of every entry is still in the export, with its author, and what
// struck it carries a reason.
func TestNoSilentEdit(t *testing.T) {
	const histories = 10_000
	shipped, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	procedure, err := commissioning.ParseProcedure(shipped[0])
	if err != nil {
		t.Fatal(err)
	}
	entries, corrections := 0, 0
	for n := range histories {
		book := history(rand.New(rand.NewPCG(7, uint64(n))), procedure)
		rows := handlers.LogbookRows(book, book.Run.OpenedAt.Add(24*time.Hour))
		if len(rows) != len(book.Entries)+1 {
			t.Fatalf("history %d: %d rows for %d entries", n, len(rows), len(book.Entries))
		}
		for i, e := range book.Entries {
			line := strings.Join(rows[i+1], "\x00")
			entries++
			if e.Kind == commissioning.KindCorrection {
				corrections++
			}
			for _, kept := range []string{e.Value, e.Text, e.By, e.Reason} {
				if !strings.Contains(line, kept) {
					t.Fatalf("history %d, entry %d: %q is no longer in the export: %s", n, e.Seq, kept, line)
				}
			}
		}
	}
	fmt.Printf("figure: %d random histories, %d entries, %d of them corrections; first values missing from the export 0\n", histories, entries, corrections)
	if corrections < histories {
		t.Errorf("only %d corrections", corrections)
	}
}

func history(r *rand.Rand, procedure commissioning.Procedure) db.Book {
	opened := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	book := db.Book{
		Run:       commissioning.Run{ID: "r", State: commissioning.Open, Round: 1, OpenedAt: opened},
		Site:      commissioning.Site{Name: "North", TimeZone: "Europe/Dublin"},
		Procedure: db.ProcedureRevision{Procedure: procedure}, Names: map[string]string{},
	}
	struck := map[int]bool{}
	for seq := 1; seq <= 4+r.IntN(10); seq++ {
		at := opened.Add(time.Duration(seq) * time.Minute)
		e := commissioning.Entry{Seq: seq, ObservedAt: at, ReceivedAt: &at, By: fmt.Sprintf("P-%04d", 1+r.IntN(3)), Via: "typed"}
		value := func(e *commissioning.Entry) {
			e.Kind, e.Quantity, e.Value, e.Unit = commissioning.KindReading, "viscosity", fmt.Sprintf("%d.%03d", 1+r.IntN(8), r.IntN(1000)), "mPa.s"
			if r.IntN(4) == 0 {
				e.Kind, e.Quantity, e.Value, e.Unit, e.Text = commissioning.KindNote, "", "", "", fmt.Sprintf("remark %d", r.IntN(1_000_000))
			}
		}
		if target := 1 + r.IntN(seq); target < seq && !struck[target] && r.IntN(2) == 0 {
			struck[target] = true
			e.Kind, e.Strikes, e.Reason = commissioning.KindCorrection, target, fmt.Sprintf("reason %d", r.IntN(1_000_000))
			if r.IntN(3) > 0 {
				with := commissioning.Entry{ObservedAt: at}
				value(&with)
				e.Replacement = &with
			}
		} else {
			value(&e)
		}
		book.Entries = append(book.Entries, e)
	}
	book.Run.Seq = len(book.Entries)
	return book
}
