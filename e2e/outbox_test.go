package e2e_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// waitsWith sees how many entries are only on the tablet.
func (d *tablet) waitsWith(n int) {
	d.t.Helper()
	text := fmt.Sprintf("%d entries only on this tablet", n)
	if n == 1 {
		text = "1 entry only on this tablet"
	}
	d.evaluates(text, fmt.Sprintf(`[...document.querySelectorAll("[data-pencil]")].some((c) => !c.hidden && c.textContent === %q)`, text))
}

// hasSent waits until nothing is only on the tablet.
func (d *tablet) hasSent() {
	d.t.Helper()
	// An answer that never comes is given up after 20 s, and asked for again after a pause.
	for range 3 {
		if n, err := d.value(waiting + `.then((n) => n === 0)`); err == nil && string(n) == "true" {
			return
		}
		time.Sleep(patience)
	}
	d.evaluates("everything is sent", waiting+`.then((n) => n === 0)`)
}

// waiting counts the entries that are not acknowledged yet.
const waiting = `new Promise((resolve, reject) => {
  const ask = indexedDB.open("settlemark");
  ask.onerror = () => reject(ask.error);
  ask.onsuccess = () => {
    const all = ask.result.transaction("out").objectStore("out").getAll();
    all.onsuccess = () => { ask.result.close(); resolve(all.result.filter((r) => r.state === "pencil" || r.state === "refused").length); };
  };
})`

// drafts are what is being typed.
const drafts = `new Promise((resolve, reject) => {
  const ask = indexedDB.open("settlemark");
  ask.onerror = () => reject(ask.error);
  ask.onsuccess = () => {
    const all = ask.result.transaction("meta").objectStore("meta").getAll(IDBKeyRange.bound("draft ", "draft~"));
    all.onsuccess = () => { ask.result.close(); resolve(all.result); };
  };
})`

// reads a value on the pad of a run.
func (d *tablet) padsIn(run, value string) {
	d.t.Helper()
	d.open("/runs/" + run + "/reading?quantity=viscosity")
	d.types("Ink viscosity, in mPa·s", value)
	d.touches("Save " + value)
	d.evaluates("it leads back to the run", fmt.Sprintf(`location.pathname === "/runs/%s" && document.readyState === "complete"`, run))
}

// recorded is one entry of the exported logbook.
type recorded struct {
	ID, Kind, Step, Value, Text, Device, Note string
	Seq                                       int
	ObservedAt                                time.Time `json:"observed_at"`
	CapturedAt                                time.Time `json:"captured_at"`
	Clock                                     *struct {
		Raw      string
		OffsetMS *int64 `json:"offset_ms"`
		ErrorMS  *int64 `json:"error_ms"`
		Proven   *bool
	}
}

func recordOf(t *testing.T, a *app, login, run string) []recorded {
	t.Helper()
	var book struct{ Entries []recorded }
	if err := json.Unmarshal([]byte(visitAs(t, a, login).reads("/runs/"+run+"/logbook.json").body), &book); err != nil {
		t.Fatal(err)
	}
	return book.Entries
}

func TestOutbox(t *testing.T) {
	s := newServer(t)
	p := standBetween(t, s.url)
	d := takesTablet(t, s.app, p.URL)
	d.signIn("marit", s.password)
	run := d.startsRun("BH-05", "Demo: return to service")
	d.takesAlong(run)
	p.does(cut, nil)
	t.Run("without the server a save is kept in pencil, in order", func(t *testing.T) {
		d.open("/runs/" + run)
		d.sees("As of")
		d.touches("Done as written")
		d.waitsWith(1)
		d.sees("on this tablet")
		d.padsIn(run, "4.50")
		d.waitsWith(2)
	})
	t.Run("what needs the server says so", func(t *testing.T) {
		d.open("/runs/" + run)
		d.sees("As of")
		d.touches("Submit")
		d.sees("Submit needs the server. Your work is kept.")
	})
	t.Run("a reading that was begun is there again, to the last key", func(t *testing.T) {
		d.open("/runs/" + run + "/reading?quantity=viscosity")
		d.types("Ink viscosity, in mPa·s", "4.6")
		d.evaluates("it is on the disk", drafts+`.then((d) => d.some((d) => d.values.value === "4.6"))`)
		d.kill()
		d.opens(s.app, p.URL)
		d.open("/runs/" + run + "/reading?quantity=viscosity")
		d.ask("holds what was typed", "holds", "Ink viscosity, in mPa·s", "4.6")
	})
	t.Run("all entries survive the killed browser", func(t *testing.T) {
		d.open("/runs/" + run)
		d.waitsWith(2)
		d.open("/offline")
		d.sees("On this tablet", "BH-05: Done", "BH-05: 4.50", "Waits for the server")
	})
	p.does(nil, nil)
	t.Run("and are sent once somebody has signed in again, if need be", func(t *testing.T) {
		d.open("/sign-in") // the browser may have been killed before it wrote its cookie down
		if strings.HasPrefix(d.path(), "/sign-in") {
			d.sees("Sign in as Marit Osei to send 2 entries")
			d.signIn("marit", s.password)
		}
		d.open("/runs/" + run)
		d.hasSent()
	})
	t.Run("in the order in which they were written, of proven time", func(t *testing.T) {
		entries := recordOf(t, s.app, "marit", run)
		if len(entries) != 2 || entries[0].Step == "" || entries[1].Value != "4.50" {
			t.Fatalf("%+v", entries)
		}
		for _, e := range entries {
			if !strings.HasPrefix(e.Device, "tablet ") || e.Clock == nil || e.Clock.Proven == nil || !*e.Clock.Proven || e.Clock.OffsetMS == nil {
				t.Errorf("%+v, clock %+v", e, e.Clock)
			}
		}
	})
	t.Run("an acknowledgement that is lost is asked for again, and nothing is stored twice", func(t *testing.T) {
		d.open("/runs/" + run)
		p.does(cut, nil)
		d.padsIn(run, "4.51")
		d.waitsWith(1)
		var lost atomic.Int32
		p.does(nil, func(r *http.Response) {
			if strings.HasSuffix(r.Request.URL.Path, "/pencil") && lost.Add(1) <= 2 {
				panic(http.ErrAbortHandler)
			}
		})
		d.hasSent()
		entries := recordOf(t, s.app, "marit", run)
		if len(entries) != 3 || lost.Load() < 3 {
			t.Errorf("%d entries, sent %d times: %+v", len(entries), lost.Load(), entries)
		}
	})
}
