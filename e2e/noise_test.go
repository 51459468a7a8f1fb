package e2e_test

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// listening stands in for what a device without ears has: it writes down which
// noises it is asked for.
const listening = `if (location.protocol.startsWith("http")) {
  window.noises = [];
  navigator.vibrate = () => { noises.push("buzz"); return true; };
  window.AudioContext = class {
    state = "running";
    currentTime = 0;
    async resume() {}
    createOscillator() {
      return { frequency: {}, connect() {}, stop() {}, start: (at) => { if (at === 0) noises.push("sound"); } };
    }
  };
  window.Notification = class { static permission = "granted"; constructor() { noises.push("note"); } };
  ServiceWorkerRegistration.prototype.showNotification = async () => { noises.push("note"); };
}`

// wants opens a page on a tablet of somebody's that makes the noises which a
// script chooses.
func wants(t *testing.T, a *app, login, path, choice string) *tab {
	t.Helper()
	b := takeTablet(t, a, true)
	b.carries(visitAs(t, a, login).cookie)
	for _, script := range []string{listening, choice} {
		b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
			return err
		})))
	}
	b.open(path)
	b.ask("hears the stream", "live")
	return b
}

// Choices of somebody on a device.
const (
	everyNoise  = `localStorage.setItem("settlemark-tell", JSON.stringify({ sound: true, buzz: true, note: true }))`
	ofAnother   = `localStorage.setItem("settlemark-tell", JSON.stringify({ sound: true, only: { id: "another", name: "", at: Date.now() } }))`
	notYet      = ``
	scriptComes = `(() => { ` + everyNoise + `; import(document.querySelector("[data-notices]").dataset.script); return true })`
)

// hears is what the page of a tablet was asked for since it was opened.
func (b *tab) hears(noises string) {
	b.t.Helper()
	b.ask("has the notice", `((s) => document.querySelector(s) !== null)`, "[data-event=stopped]")
	if _, err := b.tries(soon, `((want) => noises.slice().sort().join(" ") === want)`, noises); err != nil {
		heard, _ := b.tries(soon, `(() => noises.join(" ") || "nothing")`)
		b.t.Errorf("%s hears %s, not %q", b.path(), heard, noises)
	}
}
