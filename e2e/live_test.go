package e2e_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"
)

// soon is less than the stream's beat, with which every screen looks anyway.
const soon = 8 * time.Second

func (b *tab) soonSees(texts ...string) {
	b.t.Helper()
	for _, text := range texts {
		if _, err := b.tries(soon, "sees", text); err != nil {
			b.t.Errorf("%s does not show %q within %s:\n%s", b.path(), text, soon, b.text())
		}
	}
}

// TestLive: what one tablet records shows on the others by itself.
func TestLive(t *testing.T) {
	a := demoApp(t)
	engineer := takeTablet(t, a, true)
	engineer.signIn("marit", a.password)
	run := engineer.startsRun("BH-05", "Demo: return to service")
	watcher, board := takeTablet(t, a, true), takeTablet(t, a, true)
	for _, b := range []*tab{watcher, board} {
		b.signIn("anwen", a.password)
	}
	watcher.open("/runs/" + run)
	board.open("/board")
	for _, b := range []*tab{watcher, board} {
		b.ask("hears the stream", "live")
		time.Sleep(300 * time.Millisecond) // fonts and the like
		b.asked()
	}
	watcher.doesNotSee("1 of 2 lines", "High voltage fault")
	before := board.counts("waits for a person")

	near, late, one := wants(t, a, "yusuf", "/runs/"+run, everyNoise), wants(t, a, "yusuf", "/runs/"+run, notYet), wants(t, a, "yusuf", "/board", ofAnother)
	walks, reads := wants(t, a, "yusuf", "/board", everyNoise), wants(t, a, "keiko", "/runs/"+run, everyNoise)
	walks.open("/units")

	engineer.taps("Done as written")
	engineer.open("/runs/" + run + "/fault")
	engineer.touches("High voltage")
	engineer.taps("Save the fault")

	t.Run("a run's page follows", func(t *testing.T) {
		watcher.soonSees("1 of 2 lines", "High voltage fault")
	})
	t.Run("the board follows", func(t *testing.T) {
		board.soonSees(fmt.Sprintf("%d waits for a person", before+1))
	})
	t.Run("by the open stream alone", func(t *testing.T) {
		for name, b := range map[string]*tab{"run": watcher, "board": board} {
			for _, request := range b.asked() {
				if !strings.Contains(request, "/assets/") {
					t.Errorf("the page of the %s asked: %s", name, request)
				}
			}
		}
	})
	t.Run("and whom it concerns hears it once", func(*testing.T) {
		near.hears("buzz note sound")
		reads.hears("")
		one.hears("")
		late.soonSees("High voltage fault")
		late.ask("the script comes after the notice", scriptComes)
		late.hears("buzz note sound")
		walks.open("/board")
		walks.hears("buzz note sound")
		walks.open("/runs/" + run)
		walks.hears("")
	})
}

// counts is how many units the board says are in a state; other tests may leave
// some that are.
func (b *tab) counts(state string) int {
	b.t.Helper()
	var n int
	said := regexp.MustCompile(`(\d+) ` + state).FindStringSubmatch(b.text())
	if said == nil {
		b.t.Fatalf("the board does not count what is %s:\n%s", state, b.text())
	}
	_, err := fmt.Sscan(said[1], &n)
	b.must(err)
	return n
}
