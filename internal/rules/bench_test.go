package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"settlemark/internal/rules"
)

// BenchmarkJudge judges a run of 10,000 entries.
func BenchmarkJudge(b *testing.B) {
	curve := with(bench, `target: {value: "4.50"}`,
		`target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "25", value: "4.20"}, {at: "35", value: "3.60"}]}`)
	var lines strings.Builder
	for i := range 2500 {
		second := 25 * i
		clock := fmt.Sprintf("%02d:%02d:%02d", second/3600, second/60%60, second%60)
		fmt.Fprintf(&lines, "%s ready yes\n%s temperature 2%d.%d\n%s viscosity 4.%d\n%s pressure 43.5 psi\n", clock, clock, i%10, i*13%1000, clock, 20+i*7%60, clock)
	}
	book := bookOf(b, curve, lines.String())
	for b.Loop() {
		rules.Judge(book, book.At)
	}
}
