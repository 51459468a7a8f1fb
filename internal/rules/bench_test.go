package rules_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// busy is a run of n readings of four quantities, one instant every 25 s, one
// viscosity in 97 bad, against a target that moves with the temperature.
func busy(b *testing.B, n int) commissioning.Logbook {
	curve := with(bench, `target: {value: "4.50"}`,
		`target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "25", value: "4.20"}, {at: "35", value: "3.60"}]}`)
	book := bookOf(b, curve, "08:00 start")
	start, yes := book.At, true
	for i := range n {
		round := i / 4
		e := commissioning.Entry{Seq: i + 2, Kind: commissioning.KindReading, ObservedAt: start.Add(time.Duration(round) * 25 * time.Second)}
		switch i % 4 {
		case 0:
			e.Quantity, e.State = "ready", &yes
		case 1:
			e.Quantity, e.Value, e.Unit = "temperature", fmt.Sprintf("25.%03d", round*13%1000), "degC"
		case 2:
			e.Quantity, e.Value, e.Unit = "viscosity", fmt.Sprintf("4.%d", 10+round*7%30), "mPa.s"
			if round%97 == 96 {
				e.Value = "4.90"
			}
		case 3:
			e.Quantity, e.Value, e.Unit = "pressure", "43.5", "psi"
		}
		book.Entries = append(book.Entries, e)
		book.At = e.ObservedAt
	}
	return book
}

var sizes = []int{100, 10_000, 1_000_000}

// The first of each pair is ours, the second its yardstick of the same run.

// BenchmarkJudge is the whole assessment, against one sort of pointers to the
// same entries by time: it should grow no faster.
func BenchmarkJudge(b *testing.B) {
	for _, n := range sizes {
		book := busy(b, n)
		b.Run(fmt.Sprintf("%d readings/assessment", n), func(b *testing.B) {
			for b.Loop() {
				rules.Judge(book, book.At)
			}
		})
		b.Run(fmt.Sprintf("%d readings/one sort", n), func(b *testing.B) {
			pointers := make([]*commissioning.Entry, len(book.Entries))
			for b.Loop() {
				for i := range book.Entries {
					pointers[i*7919%len(pointers)] = &book.Entries[i] // in no order; the prime divides no size
				}
				slices.SortFunc(pointers, func(x, y *commissioning.Entry) int { return x.ObservedAt.Compare(y.ObservedAt) })
			}
		})
	}
}

// BenchmarkHold is the hold pass alone, against a bare pass over the readings of
// the same quantities; at most 2.5 times as long.
func BenchmarkHold(b *testing.B) {
	for _, n := range sizes {
		book := busy(b, n)
		hold, bare := rules.HoldPass(book, book.At)
		b.Run(fmt.Sprintf("%d readings/hold pass", n), func(b *testing.B) {
			for b.Loop() {
				hold()
			}
			b.ReportMetric(2.5, "x-at-most")
		})
		b.Run(fmt.Sprintf("%d readings/bare pass", n), func(b *testing.B) {
			for b.Loop() {
				bare()
			}
		})
	}
}
