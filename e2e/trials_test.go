package e2e_test

import (
	"context"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
)

// betweenContacts: what may happen to a tablet between two contacts, on one run.
func betweenContacts(t *testing.T, a *app, p *between, d *tablet) {
	d.clockIsFast(0)
	run := d.startsRun("BH-07", "Demo: return to service")
	d.takesAlong(run)
	record := func(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, "/pencil") }

	t.Run("a clock set back by an hour stands on the record, and what follows is of unproven time", func(t *testing.T) {
		p.does(cut, nil)
		d.open("/runs/" + run)
		d.sees("As of")
		d.evaluates("the clock is set back", `(turnClock(-3_600_000), true)`)
		d.touches("Done as written")
		d.waitsWith(1)
	})
	t.Run("bursts of 503 are waited out", func(t *testing.T) {
		var burst atomic.Int32
		p.does(func(w http.ResponseWriter, r *http.Request) bool {
			busy := record(r) && burst.Add(1) <= 3
			if busy {
				w.WriteHeader(http.StatusServiceUnavailable)
			}
			return busy
		}, nil)
		d.hasSent()
		if burst.Load() < 4 {
			t.Errorf("sent %d times", burst.Load())
		}
		e := recordOf(t, a, "marit", run)[0]
		if *e.Clock.Proven || !strings.Contains(e.Note, "had gone back by 60 min") {
			t.Errorf("%q, clock %+v", e.Note, e.Clock)
		}
	})
	t.Run("a sign-in that ends in the middle keeps what is not sent, until its writer is back", func(t *testing.T) {
		p.does(cut, nil)
		for _, value := range []string{"4.50", "4.51", "4.52"} {
			d.padsIn(run, value)
		}
		d.waitsWith(3)
		var sent atomic.Int32
		p.does(func(_ http.ResponseWriter, r *http.Request) bool {
			if sent.Load() > 1 || record(r) && sent.Add(1) > 1 {
				r.Header.Del("Cookie")
			}
			return false
		}, nil)
		d.evaluates("it is online again", `dispatchEvent(new Event("online"))`)
		// The copy may give way to the server's page before the first answer is read; then that entry is sent again.
		d.evaluates("it asks to sign in", `/^Sign in as Marit Osei to send [23] entries\.$/.test(document.querySelector("[data-announce]")?.textContent)`)
		p.does(nil, nil)
		d.must(chromedp.Do(d.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, network.ClearBrowserCookies, cdp.Empty{})
			return err
		})))
		d.signIn("marit", a.password)
		d.open("/runs/" + run)
		d.hasSent()
		if entries := recordOf(t, a, "marit", run); len(entries) != 4 || entries[1].Value != "4.50" || entries[3].Value != "4.52" {
			t.Errorf("%+v", entries)
		}
	})
	t.Run("on a full tablet it says that the entry was not kept, and what was typed stays", func(t *testing.T) {
		p.does(cut, nil)
		d.kill() // a browser remembers for a while how much room there was
		d.opens(a, d.base)
		d.hasRoom(1)
		d.open("/runs/" + run + "/more")
		d.touches("Note")
		d.types("Note > Note", "as long as the tablet is full")
		d.touches("Save the note")
		d.sees("This tablet is full, so the entry was not kept.")
		d.evaluates("the text is there", `document.querySelector("#note textarea").value === "as long as the tablet is full"`)
		d.hasRoom(1 << 30)
		d.touches("Save the note")
		d.waitsWith(1)
	})
	t.Run("signing out is refused while an entry is only here", func(t *testing.T) {
		d.touches("Menu")
		d.touches("Sign out")
		d.sees("1 entry is only on this tablet. Signing out clears the tablet.")
		d.touches("Stay signed in")
		d.waitsWith(1)
	})
	t.Run("else nothing of its reader is left on the tablet", func(t *testing.T) {
		p.does(nil, nil)
		d.open("/sign-in") // the browser may have been killed before it wrote its cookie down
		if strings.HasPrefix(d.path(), "/sign-in") {
			d.signIn("marit", a.password)
		}
		d.open("/runs/" + run)
		d.hasSent()
		d.evaluates("before: pages and what they are of", remains+`.then((n) => n > 3)`)
		d.touches("Menu")
		d.touches("Sign out")
		d.sees("Code from your authenticator app")
		// The page of sign-in begins anew: files of the program, and how far the clock is off.
		d.evaluates("no page, no entry, no name", remains+`.then((n) => n === 0)`)
	})
}

// remains counts what a tablet keeps of its reader: pages, entries, photos and
// what is remembered of them.
const remains = `(async () => {
  let n = 0;
  for (const name of await caches.keys()) for (const r of await (await caches.open(name)).keys()) n += !/^\/(assets\/|offline$)/.test(new URL(r.url).pathname);
  const database = await new Promise((resolve, reject) => {
    const ask = indexedDB.open("settlemark");
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
  });
  for (const store of database.objectStoreNames) {
    const keys = await new Promise((resolve) => { database.transaction(store).objectStore(store).getAllKeys().onsuccess = (e) => resolve(e.target.result); });
    n += keys.filter((k) => !["offset", "steady"].includes(k)).length;
  }
  database.close();
  return n;
})()`

// hasRoom limits what the tablet can keep.
func (d *tablet) hasRoom(bytes float64) {
	d.t.Helper()
	d.must(chromedp.Do(d.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, storage.OverrideQuotaForOrigin, storage.OverrideQuotaForOriginParams{Origin: d.base, QuotaSize: &bytes})
		return err
	})))
}
