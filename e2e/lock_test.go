package e2e_test

import (
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
)

// TestLock: a tablet that nobody touched for ten minutes covers its page, and
// who proves to be there finds the page as it was left.
func TestLock(t *testing.T) {
	s := newServer(t)
	p := standBetween(t, s.url)
	d := takesTablet(t, s.app, p.URL)
	d.takesDevice()
	d.signIn("marit", s.password)
	d.open("/account/second-factors")
	d.taps("Add a passkey")
	d.types("What you call it", "My tablet")
	d.types("Your password, again", s.password)
	d.taps("Make the passkey")
	run := d.startsRun("BH-05", "Demo: return to service")
	d.takesAlong(run)
	d.clockIsFast(0)
	// rests lets ten minutes pass on the page, by the clock that it reads.
	rests := func(t *testing.T) {
		t.Helper()
		d.sees("BH-05")
		d.evaluates("ten minutes pass", `(turnClock(600_000), true)`)
		d.sees("Locked", "Your password, or a code")
		d.doesNotSee("Marit Osei", "BH-05")
		d.evaluates("the title names nobody", `document.title === "Locked, Settlemark"`)
		d.evaluates("the clock is right again", `(turnClock(-600_000), true)`)
	}
	typed := func() {
		d.t.Helper()
		d.ask("holds what was typed", "holds", "Ink viscosity, in mPa·s", "4.6")
		d.doesNotSee("Locked")
	}

	p.does(cut, nil)
	d.padsIn(run, "4.50")
	d.waitsWith(1)
	d.open("/runs/" + run + "/reading?quantity=viscosity")
	d.types("Ink viscosity, in mPa·s", "4.6")
	t.Run("it is covered and names nobody, without the server too", rests)
	t.Run("the server is told as soon as it is back, and refuses every page", func(t *testing.T) {
		p.does(func(w http.ResponseWriter, r *http.Request) bool {
			return strings.HasSuffix(r.URL.Path, "/pencil") && cut(w, r) // it is locked before it sends
		}, nil)
		d.evaluates("it leads to the lock", `fetch("/units").then((a) => new URL(a.url).pathname === "/unlock")`)
	})
	t.Run("what is in pencil is refused and stays on the tablet", func(t *testing.T) {
		var refused atomic.Bool
		p.does(nil, func(r *http.Response) {
			if strings.HasSuffix(r.Request.URL.Path, "/pencil") && r.StatusCode == http.StatusUnauthorized {
				refused.Store(true)
			}
		})
		for !refused.Load() {
			d.evaluates("it tries again", `(dispatchEvent(new Event("online")), true)`)
		}
		d.evaluates("it is still there", waiting+`.then((n) => n === 1)`)
	})
	t.Run("a wrong password leaves it locked", func(t *testing.T) {
		d.types("Your password, or a code", "not the password")
		d.touches("Unlock")
		d.sees("That is neither your password nor a code of yours.", "Locked")
	})
	t.Run("the password brings the page back with what was typed, and the pencil becomes ink", func(t *testing.T) {
		d.types("Your password, or a code", s.password)
		d.touches("Unlock")
		d.sees("BH-05")
		typed()
		d.hasSent()
		if entries := recordOf(t, s.app, "marit", run); len(entries) != 1 || entries[0].Value != "4.50" {
			t.Errorf("%+v", entries)
		}
	})
	t.Run("so does a code", func(t *testing.T) {
		rests(t)
		d.types("Your password, or a code", s.code(t, "marit"))
		d.touches("Unlock")
		d.sees("BH-05")
		typed()
	})
	t.Run("so does a passkey, under the minutes that go on", func(t *testing.T) {
		d.open("/runs/" + run)
		d.touches("Menu")
		d.sees("Marit Osei")
		rests(t)
		d.evaluates("the minutes left are shown", `(() => {
			const left = document.querySelector(".lock-left");
			return left.checkVisibility() && left.textContent === document.querySelector("[data-minutes]").textContent + " min";
		})()`)
		d.touches("Unlock with a passkey")
		d.sees("BH-05", "Marit Osei")
		d.doesNotSee("Locked")
	})
}
