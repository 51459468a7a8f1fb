package backup

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/fsck"
)

// Report is what a drill found.
type Report struct {
	Source       string
	Begun        time.Time
	Took         time.Duration
	Faults       []string // one line each; none when the restore is proven
	Entries      int
	Certificates int   // verified
	Missing      int64 // entries of the log after the backup

	lines []string
}

// Proven says that everything is there.
func (r Report) Proven() bool { return len(r.Faults) == 0 }

// Text is the report for people, and what is signed. It begins with a line that
// no checkpoint and no status list begins with.
func (r Report) Text() string {
	var text strings.Builder
	fmt.Fprintf(&text, "restore-drill/1\n%-12s %s\n%-12s %s, took %d ms\n", "source", oneLine(r.Source), "begun", instant(r.Begun), r.Took.Milliseconds())
	for _, line := range r.lines {
		text.WriteString(line + "\n")
	}
	for _, fault := range r.Faults {
		fmt.Fprintf(&text, "%-12s %s\n", "fault", oneLine(fault))
	}
	result := "proven: a restore of this backup is complete and sound"
	if !r.Proven() {
		result = fmt.Sprintf("FAILED: %d faults", len(r.Faults))
	}
	fmt.Fprintf(&text, "%-12s %s\n", "result", result)
	return text.String()
}

func (r *Report) line(label, format string, args ...any) {
	r.lines = append(r.lines, fmt.Sprintf("%-12s %s", label, oneLine(fmt.Sprintf(format, args...))))
}

func (r *Report) fault(format string, args ...any) {
	r.Faults = append(r.Faults, fmt.Sprintf(format, args...))
}

func (r *Report) record(found fsck.Report) {
	r.Entries = found.Entries
	r.line("record", "%d runs, %d entries, %d rows of evidence, %d leaves of the log, %d wait to be sealed",
		found.Runs, found.Entries, found.Rows, found.Leaves, found.Waiting)
}

func instant(at time.Time) string { return at.UTC().Format(time.RFC3339) }

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
