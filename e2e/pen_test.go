package e2e_test

import (
	"strings"
	"testing"
)

// TestTwoAtOneRun: one pen. It is taken while its holder is out of reach, and
// handed back.
func TestTwoAtOneRun(t *testing.T) {
	a := demoApp(t)
	p := standBetween(t, a.url)
	marit := takesTablet(t, a, p.URL)
	marit.signIn("marit", a.password)
	run := marit.startsRun("BH-12", "Demo: return to service")
	marit.takesAlong(run)
	yusuf := takeTablet(t, a, true)
	yusuf.signIn("yusuf", a.password)
	yusuf.open("/runs/" + run)
	yusuf.sees("Marit Osei holds the pen of this run. You are watching.")
	yusuf.doesNotSee("Done as written", "Type a reading")

	p.does(cut, nil)
	marit.padsIn(run, "4.50")
	marit.waitsWith(1)
	yusuf.touches("Take the pen")
	yusuf.types("Why, or what was agreed", "Marit's tablet is out of reach")
	yusuf.touches("Take the pen")
	yusuf.sees("Done as written", "Type a reading")
	p.does(nil, nil)
	marit.open("/runs/" + run)
	marit.hasSent()
	t.Run("who lost the pen watches, and what they wrote is to be looked at", func(t *testing.T) {
		marit.soonSees("Yusuf Tremaine holds the pen of this run since")
		all := recordOf(t, a, "keiko", run)
		if len(all) != 2 || all[0].Note != "Took the pen from Marit Osei (P-0002)." {
			t.Fatalf("recorded: %+v", all)
		}
		late := all[1]
		if late.Value != "4.50" || late.Clock == nil || *late.Clock.Proven || !strings.Contains(late.Note, "Sent after the pen had gone to Yusuf Tremaine.") {
			t.Errorf("recorded: %+v", late)
		}
	})
	yusuf.open("/runs/" + run + "/pen")
	yusuf.chooses("Who goes on", "Marit Osei")
	yusuf.types("What they must know", "the level is low")
	yusuf.touches("Hand over")
	yusuf.sees("Handed over to Marit Osei")
	yusuf.open("/runs/" + run)
	t.Run("a hand-over is seen at once, and taken", func(t *testing.T) {
		marit.soonSees("Handed over to Marit Osei", "the level is low")
		marit.touches("Take the pen")
		marit.touches("Take the pen")
		marit.sees("Handed over to you", "the level is low", "Done as written")
	})
	t.Run("the page of who held it says that it is gone", func(t *testing.T) {
		yusuf.soonSees("Marit Osei holds the pen of this run since", "You held it before.")
	})
}
