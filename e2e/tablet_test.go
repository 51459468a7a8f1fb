package e2e_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// tablet is a browser of its own with a profile that outlives it: what a tablet
// has on its disk. It can be killed and opened again.
type tablet struct {
	*tab
	whole   *testing.T
	profile string
	process *os.Process
	close   func()
}

// takesTablet opens a browser on a fresh profile. What the browser says about
// an address that can't be reached is no complaint here.
func takesTablet(t *testing.T, a *app, base string) *tablet {
	t.Helper()
	d := &tablet{whole: t, profile: t.TempDir()}
	d.opens(a, base)
	t.Cleanup(func() { d.kill() })
	return d
}

func (d *tablet) opens(a *app, base string) {
	t := d.whole // the browser outlives the part of a test that opens it
	t.Helper()
	path, err := chromium()
	if err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.DisableGPU, chromedp.UserDataDir(d.profile),
		chromedp.Flag("disable-component-update", true),
		chromedp.ModifyCmdFunc(func(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }),
	)
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	allocator, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancelTab := chromedp.NewContext(allocator)
	d.tab = &tab{t: t, app: a, ctx: ctx, base: base, scripts: true}
	d.close = func() { cancelTab(); cancel() }
	d.must(chromedp.Listen(ctx, d.listen))
	d.size(1180, 820)
	d.process = chromedp.FromContext(ctx).Browser.Process()
}

// kill ends the browser as an empty battery does: the whole process group.
func (d *tablet) kill() {
	if d.process == nil {
		return
	}
	_ = syscall.Kill(-d.process.Pid, syscall.SIGKILL)
	d.close()
	d.process = nil
}

// evaluates runs a script on the page until it gives true.
func (d *tablet) evaluates(what, expression string) {
	d.t.Helper()
	for deadline := time.Now().Add(2 * patience); ; time.Sleep(50 * time.Millisecond) {
		ok, err := d.value(expression)
		if err == nil && string(ok) == "true" {
			return
		}
		if time.Now().After(deadline) {
			d.t.Fatalf("%s: %s gives %s, %v\n%s", what, expression, ok, err, d.text())
		}
	}
}

// value is what a script gives, as JSON; promises are waited for.
func (d *tablet) value(expression string) (json.RawMessage, error) {
	return chromedp.Run(d.ctx, chromedp.Evaluate[[]byte](expression, chromedp.EvalAwaitPromise))
}

// takesAlong opens a run and takes it along.
func (d *tablet) takesAlong(run string) {
	d.t.Helper()
	d.open("/runs/" + run)
	d.controlled()
	d.touches("Take with me")
	d.sees("Taken along")
}

func (d *tablet) controlled() {
	d.t.Helper()
	d.evaluates("the worker controls the page", `navigator.serviceWorker.controller !== null`)
}

// serverOf starts a demo of the test's own that can be stopped and started at
// the same address.
type server struct {
	*app
	t      *testing.T
	listen string
}

func newServer(t *testing.T) *server {
	t.Helper()
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	s := &server{t: t}
	if s.app, err = launch(data, "127.0.0.1:0"); err != nil {
		t.Fatal(err)
	}
	s.listen = strings.TrimPrefix(s.url, "http://")
	t.Cleanup(func() {
		_ = s.stop()
		os.RemoveAll(data)
	})
	return s
}

// again starts the stopped server where it was.
func (s *server) again(env ...string) {
	s.t.Helper()
	back, err := launch(s.data, s.listen, env...)
	if err != nil {
		s.t.Fatal(err)
	}
	back.password, back.apps, back.signedIn = s.password, s.apps, s.signedIn
	s.app = back
}

func TestTakenAlong(t *testing.T) {
	s := newServer(t)
	d := takesTablet(t, s.app, s.url)
	d.signIn("marit", s.password)
	run := d.startsRun("BH-05", "Demo: return to service")
	d.takesAlong(run)
	if err := s.stop(); err != nil {
		t.Fatal(err)
	}
	t.Run("a run that was taken along opens with the server down", func(t *testing.T) {
		d.open("/runs/" + run)
		d.sees("BH-05", "As of", "The server can’t be reached", "Done as written")
		d.open("/runs/" + run + "/reading?quantity=viscosity")
		d.sees("As of", "Ink viscosity")
	})
	t.Run("its clock goes on, however long ago it was seen", func(t *testing.T) {
		pad := "/runs/" + run + "/reading?quantity=viscosity"
		d.evaluates("the copy is made two hours older", fmt.Sprintf(`caches.open("kept").then(async (kept) => {
			const copy = await kept.match(%q), html = (await copy.text()).replace(/data-now="(\d+)"/, (_, at) => `+"`data-now=\"${at - 7_200_000}\"`"+`);
			await kept.put(%[1]q, new Response(html, { headers: copy.headers }));
			return true;
		})`, pad))
		d.open(pad)
		d.evaluates("taken now is now", `(() => {
			const clock = document.querySelector("[data-clock]");
			const shows = (ms) => new Intl.DateTimeFormat("en-GB", { timeZone: clock.dataset.clock, hour: "2-digit", minute: "2-digit" }).format(ms);
			return [shows(Date.now()), shows(Date.now() - 60_000)].includes(clock.textContent);
		})()`)
	})
	t.Run("a time in the hour that a clock set back shows twice says which of the two it is", func(t *testing.T) {
		for _, c := range []struct{ zone, at, want string }{
			{"Europe/Dublin", "2026-10-24T23:59Z", "00:59"},
			{"Europe/Dublin", "2026-10-25T00:30Z", "01:30 UTC+1"},
			{"Europe/Dublin", "2026-10-25T01:30Z", "01:30 UTC+0"},
			{"Europe/Dublin", "2026-10-25T02:00Z", "02:00"},
			{"America/Halifax", "2026-11-01T05:30Z", "01:30 UTC-4"},
		} {
			d.evaluates(c.at, fmt.Sprintf(`import(document.querySelector("script[src*='tablet']").src).then((page) => page.siteTime(Date.parse(%q), %q) === %q)`, c.at, c.zone, c.want))
		}
	})
	t.Run("the section of an address is shown", func(t *testing.T) {
		d.open("/runs/" + run + "?section=1")
		d.evaluates("the section of the address is shown", `document.querySelector('.card[data-section="1"]').checkVisibility()`)
	})
	t.Run("so does the list of my runs, as it was seen last", func(t *testing.T) {
		d.open("/runs")
		d.sees("My runs", "As of", "BH-05")
	})
	t.Run("a run that was not taken along leads to what is on the tablet", func(t *testing.T) {
		d.open("/runs/00000000-0000-7000-8000-000000000000")
		d.sees("On this tablet", "Taken along", "BH-05", "can’t be reached")
	})
	t.Run("and nothing else is answered", func(t *testing.T) {
		for _, path := range []string{"/sign-in", "/board", "/certificates", "/runs/" + run + "/submit"} {
			if answer, _ := d.value(fmt.Sprintf(`fetch(%q).then(() => "answered", () => "no answer")`, path)); string(answer) != `"no answer"` {
				t.Errorf("%s: %s", path, answer)
			}
		}
	})
	s.again()
	d.app = s.app
	t.Run("back with the server the page is the server's", func(t *testing.T) {
		d.open("/runs/" + run)
		d.sees("BH-05")
		d.evaluates("no copy", `!document.documentElement.dataset.seen && !document.querySelector("[data-as-of]").checkVisibility()`)
	})
}

// TestTabletClock: the clock of the tablet is a day fast. What it is off is
// measured at each contact and is there again after the browser was killed.
func TestTabletClock(t *testing.T) {
	a := demoApp(t)
	p := standBetween(t, a.url)
	d := takesTablet(t, a, p.URL)
	day := 24 * time.Hour
	d.clockIsFast(day)
	d.signIn("marit", a.password)
	off := func() float64 {
		t.Helper()
		d.evaluates("the offset is stored", `(`+metaOf+`)("offset").then((o) => Boolean(o))`)
		answer, err := d.value(`(` + metaOf + `)("offset").then((o) => o.ms)`)
		d.must(err)
		var ms float64
		d.must(json.Unmarshal(answer, &ms))
		return ms
	}
	t.Run("a clock that is a day fast is measured", func(t *testing.T) {
		// One clock, so what is left is the way there and back: some ms on this machine.
		if got := off() + float64(day.Milliseconds()); got < -250 || got > 250 {
			t.Errorf("the offset is %v ms beside the day", got)
		}
	})
	t.Run("the offset survives a killed browser, with nobody to ask", func(t *testing.T) {
		before := off()
		run := d.startsRun("BH-09", "Demo: return to service")
		d.takesAlong(run)
		d.kill()
		p.does(cut, nil)
		d.opens(a, p.URL)
		d.clockIsFast(day)
		d.open("/runs/" + run)
		d.sees("As of")
		if after := off(); after-before > 250 || before-after > 250 {
			t.Errorf("%v before, %v after", before, after)
		}
	})
}

// metaOf reads what the tablet keeps under a name.
const metaOf = `(name) => new Promise((resolve, reject) => {
  const ask = indexedDB.open("settlemark");
  ask.onerror = () => reject(ask.error);
  ask.onsuccess = () => {
    const all = ask.result.transaction("meta").objectStore("meta").get(name);
    all.onsuccess = () => { ask.result.close(); resolve(all.result); };
  };
})`

// clockIsFast turns the tablet's clock forward, or back, for every page to come.
func (d *tablet) clockIsFast(by time.Duration) {
	d.t.Helper()
	d.must(chromedp.Do(d.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
			Source: fmt.Sprintf("{ const now = Date.now; let fast = %d; Date.now = () => now() + fast; window.turnClock = (ms) => { fast += ms; }; }", by.Milliseconds()),
		})
		return err
	})))
}

func TestNewerWorker(t *testing.T) {
	a := demoApp(t)
	p := standBetween(t, a.url)
	d := takesTablet(t, a, p.URL)
	d.signIn("marit", a.password)
	run := d.startsRun("BH-11", "Demo: return to service")
	d.takesAlong(run)
	shells := `caches.keys().then((names) => names.filter((n) => n.startsWith("assets-")))`
	p.does(nil, newerWorker)
	// A step is begun, so the page must not change under somebody's hands.
	d.open("/runs/" + run + "/reading?quantity=viscosity")
	d.types("Ink viscosity, in mPa·s", "4.5")
	d.evaluates("a newer one is looked for", `navigator.serviceWorker.ready.then((r) => r.update()).then(() => true)`)
	t.Run("a newer worker waits while something is begun", func(t *testing.T) {
		d.evaluates("it waits", `navigator.serviceWorker.ready.then((r) => r.waiting !== null)`)
		time.Sleep(500 * time.Millisecond)
		d.evaluates("it still waits", `navigator.serviceWorker.ready.then((r) => r.waiting !== null)`)
		d.evaluates("both files are there", shells+`.then((s) => s.length === 2)`)
	})
	t.Run("and takes over between two steps; the old files go, what was taken along stays", func(t *testing.T) {
		d.padsIn(run, "4.50") // so nothing is begun any more
		d.open("/runs/" + run)
		d.evaluates("it has taken over", `navigator.serviceWorker.ready.then((r) => r.waiting === null && r.active.state === "activated")`)
		d.evaluates("only its files are left", shells+`.then((s) => s.length === 1 && s[0].startsWith("assets-next-"))`)
		p.does(cut, nil)
		d.open("/runs/" + run)
		d.sees("As of", "Done as written")
	})
}
