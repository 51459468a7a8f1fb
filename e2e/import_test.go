package e2e_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"settlemark/internal/trial"
)

// TestFileOfReadings chooses a file in the browser and holds the page that shows
// how it is read against the measures of every screen.
func TestFileOfReadings(t *testing.T) {
	a := demoApp(t)
	v := visitAs(t, a, "marit")
	b := takeTablet(t, a, true)
	b.carries(v.cookie)
	b.open(v.link("/units/BH-06", "a[href^='/runs/']") + "/more")
	b.taps("Readings from a file")
	b.must(os.MkdirAll(out, 0o755))
	at := func(back time.Duration) string { return time.Now().Add(-back).UTC().Format(time.RFC3339) }
	file := filepath.Join(t.TempDir(), "controller.csv")
	b.must(os.WriteFile(file, fmt.Appendf(nil, "Time;Viscosity of the ink at the pump (mPa·s);Ink temperature;Note\n%s;4,50;21,5;\n%s;4,4x;21,6;\n%s;4,49;21,6;\n",
		at(3*time.Minute), at(2*time.Minute), at(time.Minute)), 0o600))
	b.attaches("File", file)
	b.taps("Look into the file")
	b.sees("In controller.csv", "5 readings in the time of the run, not stored yet.", "Line 3:", "Store 5 readings")
	for _, size := range append(sizes, zoomed...) {
		b.size(size.width, size.height)
		measure(t, b, fmt.Sprintf("%d px wide", size.width), fieldTarget)
		if trial.Full {
			save(t, b, fmt.Sprintf("import-file-%d.png", size.width))
		}
	}
	b.chooses("Between the columns", "a comma")
	b.taps("Read it like this")
	b.sees("0 readings in the time of the run")
}
