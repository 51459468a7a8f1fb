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

// hasSent waits until nothing is only on the tablet. The tablet is told that it
// is online, which makes it try at once instead of after its pause.
func (d *tablet) hasSent() {
	d.t.Helper()
	const least = 20 * time.Second // after which an answer that never comes is given up
	for deadline := time.Now().Add(least + 2*patience); time.Now().Before(deadline); time.Sleep(200 * time.Millisecond) {
		n, err := d.value(waiting + `.then((n) => (n > 0 && dispatchEvent(new Event("online")), n))`)
		if err == nil && string(n) == "0" {
			return
		}
	}
	d.t.Fatalf("not everything is sent:\n%s", d.text())
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

// pictures describes the photos that wait, and whether their name is their hash.
const pictures = `new Promise((resolve, reject) => {
  const ask = indexedDB.open("settlemark");
  ask.onerror = () => reject(ask.error);
  ask.onsuccess = () => {
    const store = ask.result.transaction("blobs").objectStore("blobs");
    const keys = store.getAllKeys(), all = store.getAll();
    all.onsuccess = async () => {
      ask.result.close();
      const said = await Promise.all(all.result.map(async (blob, i) => {
        const picture = await createImageBitmap(blob);
        const sum = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
        const hex = [...new Uint8Array(sum)].map((b) => b.toString(16).padStart(2, "0")).join("");
        return blob.type + " " + picture.width + "x" + picture.height + " " + (hex === keys.result[i]);
      }));
      resolve(said.join(", "));
    };
  };
})`

// topOfMain is where the work begins on the screen.
const topOfMain = `document.getElementById("main").getBoundingClientRect().top`

// drawn counts dots and wedges in pencil.
const drawn = `["circle", "path"].map((kind) => document.querySelectorAll("svg[data-t0] " + kind + "[data-pencil-drawn]").length).join(" ")`

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
	ID, Kind, Step, Value, Text, Device, Note, SHA256 string
	Seq                                               int
	ObservedAt                                        time.Time `json:"observed_at"`
	CapturedAt                                        time.Time `json:"captured_at"`
	Clock                                             *struct {
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
	t.Run("a reading in pencil is drawn on the server's chart and on the hold bar, and said beside the minutes", func(t *testing.T) {
		d.evaluates("a hollow dot and a wedge on each chart", drawn+` === "3 3"`)
		d.evaluates("beside the minutes", `document.querySelector(".biglabel").textContent.includes("1 check in pencil: 4.50 at ")`)
	})
	t.Run("a photo is kept, shrunk and by its hash", func(t *testing.T) {
		d.open("/runs/" + run + "/more")
		d.touches("Photo that no line asks for")
		d.attaches("Photo", photoOf(t, "code.jpg", 2000, 1500))
		d.touches("Save the photo")
		d.waitsWith(3)
		d.evaluates("a JPEG of 1600 pixels under its SHA-256", pictures+`.then((p) => p === "image/jpeg 1600x1200 true")`)
	})
	t.Run("nothing moved under a finger when the page opened", func(t *testing.T) {
		d.open("/runs/" + run + "/more")
		before, err := d.value(topOfMain)
		d.must(err)
		d.waitsWith(3)
		d.evaluates("it stands where it stood", fmt.Sprintf("%s === %s", topOfMain, before))
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
		d.waitsWith(3)
		d.open("/offline")
		d.sees("On this tablet", "BH-05: Done", "BH-05: 4.50", "BH-05: Photo", "Waits for the server")
		d.evaluates("the photo is shown", `document.querySelector("[data-what] img")?.naturalWidth === 1600`)
	})
	p.does(nil, nil)
	t.Run("and are sent once somebody has signed in again, if need be", func(t *testing.T) {
		d.open("/sign-in") // the browser may have been killed before it wrote its cookie down
		if strings.HasPrefix(d.path(), "/sign-in") {
			d.sees("Sign in as Marit Osei to send 3 entries")
			d.signIn("marit", s.password)
		}
		d.open("/runs/" + run)
		d.hasSent()
	})
	t.Run("in the order in which they were written, of proven time", func(t *testing.T) {
		entries := recordOf(t, s.app, "marit", run)
		if len(entries) != 3 || entries[0].Step == "" || entries[1].Value != "4.50" || entries[2].Kind != "photo" {
			t.Fatalf("%+v", entries)
		}
		if a := visitAs(t, s.app, "marit").get("/runs/" + run + "/photos/" + entries[2].SHA256 + ".jpg"); a.status != http.StatusOK {
			t.Errorf("the photo answers %d", a.status)
		}
		d.evaluates("no photo is left on the tablet", pictures+`.then((p) => p === "")`)
		d.evaluates("nor a mark in pencil", drawn+` === "0 0"`)
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
		if len(entries) != 4 || lost.Load() < 3 {
			t.Errorf("%d entries, sent %d times: %+v", len(entries), lost.Load(), entries)
		}
		p.does(nil, nil)
	})
	weakNetwork(t, s.app, p, d)
	betweenContacts(t, s.app, p, d)
}
