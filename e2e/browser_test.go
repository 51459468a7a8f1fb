package e2e_test

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

const patience = 15 * time.Second

// finger finds what a person sees and can touch.
//
//go:embed testdata/finger.js
var finger string

// One browser for all tests; every tab has cookies of its own.
var browser struct {
	once   sync.Once
	ctx    context.Context
	cancel []context.CancelFunc
	dir    string
	err    error
}

func openBrowser(t *testing.T) context.Context {
	t.Helper()
	browser.once.Do(func() {
		if browser.dir, browser.err = os.MkdirTemp("", "settlemark-e2e-browser-"); browser.err != nil {
			return
		}
		var options []chromedp.ExecAllocatorOption
		if options, browser.err = browserOptions(browser.dir); browser.err != nil {
			return
		}
		allocator, cancel := chromedp.NewExecAllocator(context.Background(), options...)
		ctx, cancelBrowser := chromedp.NewContext(allocator)
		browser.ctx, browser.cancel = ctx, []context.CancelFunc{cancelBrowser, cancel}
		browser.err = chromedp.Do(ctx)
	})
	if browser.err != nil {
		t.Fatal(browser.err)
	}
	return browser.ctx
}

func chromium() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			return found, nil
		}
	}
	return "", fmt.Errorf("this test needs a browser: install the Debian package chromium, or run make test")
}

// browserOptions start a browser with its data in dir.
func browserOptions(dir string) ([]chromedp.ExecAllocatorOption, error) {
	path, err := chromium()
	if err != nil {
		return nil, err
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.DisableGPU, chromedp.UserDataDir(dir),
		chromedp.Flag("disable-component-update", true),
	)
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	return options, nil
}

func closeBrowser() {
	for _, cancel := range browser.cancel {
		cancel()
	}
	if browser.dir != "" {
		os.RemoveAll(browser.dir)
	}
}

// tab is one person at a tablet of their own.
type tab struct {
	t       *testing.T
	app     *app
	ctx     context.Context
	base    string
	scripts bool

	mu         sync.Mutex
	requests   []string
	complaints []string

	touched struct { // last
		label string
		at    time.Time
	}
}

// takeTablet opens a tab with touch in landscape; without scripts when asked.
func takeTablet(t *testing.T, a *app, scripts bool) *tab {
	t.Helper()
	return takeTabletOf(t, a, openBrowser(t), scripts)
}

// takeTabletOf opens it in that browser.
func takeTabletOf(t *testing.T, a *app, browser context.Context, scripts bool) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	b := &tab{t: t, app: a, ctx: ctx, base: a.url, scripts: scripts}
	t.Cleanup(func() {
		cancel()
		for _, complaint := range b.complaints {
			t.Errorf("the browser complains: %s", complaint)
		}
	})
	b.must(chromedp.Listen(ctx, b.listen))
	b.size(1180, 820)
	b.must(chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{}); err != nil {
			return err
		}
		if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !scripts})
		return err
	})))
	return b
}

// size gives the tablet another size, or turns it.
func (b *tab) size(width, height int64) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.EmulateViewport(width, height, chromedp.EmulateTouch)))
}

func (b *tab) listen(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.Method+" "+strings.TrimPrefix(e.Request.URL, b.base))
	case *network.EventResponseReceived:
		if e.Response.Status >= 500 || e.Response.Status == 404 {
			b.complaints = append(b.complaints, fmt.Sprintf("%s answered %d", e.Response.URL, e.Response.Status))
		}
	case *cdplog.EventEntryAdded:
		if e.Entry.Level == cdplog.EntryLevelError && e.Entry.Source != cdplog.EntrySourceNetwork {
			b.complaints = append(b.complaints, e.Entry.Text+" at "+e.Entry.URL)
		}
	case *runtime.EventExceptionThrown:
		b.complaints = append(b.complaints, "script error: "+fmt.Sprint(e.ExceptionDetails.Text, e.ExceptionDetails.Exception))
	case *runtime.EventConsoleAPICalled:
		if e.Type == "error" {
			text, _ := json.Marshal(e.Args)
			b.complaints = append(b.complaints, "console.error: "+string(text))
		}
	}
}

func (b *tab) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

// open goes to a page.
func (b *tab) open(path string) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.Navigate(b.base+path)))
}

// path is where the tab is.
func (b *tab) path() string {
	b.t.Helper()
	location, err := chromedp.Run(b.ctx, chromedp.Location())
	b.must(err)
	return strings.TrimPrefix(location, b.base)
}

// ask calls one function of finger.js until it answers something but null.
func (b *tab) ask(what string, call string, arguments ...any) json.RawMessage {
	b.t.Helper()
	answer, err := b.tries(patience, call, arguments...)
	if err != nil {
		b.t.Fatalf("%s: %v\nOn %s there stands:\n%s", what, err, b.path(), b.text())
	}
	return answer
}

func (b *tab) tries(limit time.Duration, call string, arguments ...any) (json.RawMessage, error) {
	list, err := json.Marshal(append([]any{}, arguments...))
	if err != nil {
		return nil, err
	}
	expression := "(() => {" + finger + "\nreturn " + call + "(..." + string(list) + ")})()"
	last := fmt.Errorf("not there")
	for deadline := time.Now().Add(limit); ; {
		answer, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]byte](expression))
		if err == nil && string(answer) != "null" && string(answer) != "false" && len(answer) > 0 {
			return answer, nil
		}
		if err != nil {
			last = err // a page may go away while it is asked
		}
		if time.Now().After(deadline) || b.ctx.Err() != nil {
			return nil, last
		}
		time.Sleep(25 * time.Millisecond)
	}
}

// reads gives the text of the element that a CSS selector finds.
func (b *tab) reads(selector string) string {
	b.t.Helper()
	var text string
	b.must(json.Unmarshal(b.ask("reads "+selector, "textOf", selector), &text))
	return text
}

// text is what stands on the page, for messages.
func (b *tab) text() string {
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("(() => {"+finger+"\nreturn standing()})()"))
	if err != nil {
		return err.Error()
	}
	return text
}

// sees waits until each text stands on the page for all to see.
func (b *tab) sees(texts ...string) {
	b.t.Helper()
	for _, text := range texts {
		b.ask("sees "+text, "sees", text)
	}
}

// doesNotSee checks that none of the texts stands there now.
func (b *tab) doesNotSee(texts ...string) {
	b.t.Helper()
	for _, text := range texts {
		if _, err := b.tries(0, "sees", text); err == nil {
			b.t.Errorf("on %s there stands %q", b.path(), text)
		}
	}
}

// taps touches what carries the label and waits for what comes after: another
// page, or another content of this one.
func (b *tab) taps(label string) {
	b.t.Helper()
	b.ask("before tapping "+label, "mark")
	b.touches(label)
	b.ask("after tapping "+label, "changed")
}

// bounce is how soon after a touch the same place takes no other, as a glove's.
const bounce = 400 * time.Millisecond

// touches touches what carries the label: a button, link, fold or tick.
func (b *tab) touches(label string) {
	b.t.Helper()
	if b.touched.label == label {
		time.Sleep(time.Until(b.touched.at.Add(bounce + 100*time.Millisecond)))
	}
	defer func() { b.touched.label, b.touched.at = label, time.Now() }()
	var at struct{ X, Y float64 }
	b.must(json.Unmarshal(b.ask("touches "+label, "where", label), &at))
	b.must(chromedp.Do(b.ctx, chromedp.TapXY(at.X, at.Y)))
}

// ticks sees to it that a box is ticked: a script may have done it.
func (b *tab) ticks(label string) {
	b.t.Helper()
	b.sees(label)
	if _, err := b.tries(500*time.Millisecond, "ticked", label); err != nil {
		b.touches(label)
	}
	b.ask(label+" is ticked", "ticked", label)
}

// types puts a text into the field with that label, in place of what it held.
func (b *tab) types(label, text string) {
	b.t.Helper()
	b.ask("types into "+label, "enter", label)
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, input.InsertText, input.InsertTextParams{Text: text})
		return err
	})))
	b.ask(fmt.Sprintf("%q stands in %s", text, label), "holds", label, text)
}

// chooses picks an option of a list, or a day of a date field.
func (b *tab) chooses(label, option string) {
	b.t.Helper()
	b.ask(fmt.Sprintf("chooses %q of %s", option, label), "choose", label, option)
}

// attaches puts a file into the field with that label.
func (b *tab) attaches(label, file string) {
	b.t.Helper()
	var id string
	b.must(json.Unmarshal(b.ask("attaches to "+label, "fieldID", label), &id))
	b.must(chromedp.Do(b.ctx, chromedp.SetUploadFiles(`[id="`+id+`"]`, []string{file})))
}

// asked gives the requests that the tab has sent since it was last asked.
func (b *tab) asked() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	requests := b.requests
	b.requests = nil
	return requests
}
