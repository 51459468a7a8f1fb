package e2e_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestKeyboard walks pages by the tab key: every control in the order in which
// it is read, each with a ring and in sight, and no way of getting stuck.
func TestKeyboard(t *testing.T) {
	a := demoApp(t)
	all := screens(t, a)
	for _, name := range []string{"sign-in", "run-step", "reading", "fault", "board", "review", "certificates", "person"} {
		s := all[slices.IndexFunc(all, func(s screen) bool { return s.name == name })]
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := takeTablet(t, a, true)
			if s.login != "" {
				b.carries(visitAs(t, a, s.login).cookie)
			}
			for _, size := range []viewport{sizes[0], sizes[2]} {
				b.size(size.width, size.height)
				b.open(s.path)
				b.ask("the page has its fonts", "ready")
				b.walks(t)
			}
		})
	}
	t.Run("Escape leaves the pad", func(t *testing.T) {
		b := takeTablet(t, a, true)
		b.carries(visitAs(t, a, "marit").cookie)
		run := visitAs(t, a, "keiko").link("/units/BH-08", "a[href^='/runs/']")
		b.open(run)
		b.taps("Type a reading")
		b.ask("before Escape", "mark")
		b.presses(kb.Escape)
		b.ask("after Escape", "changed")
		if got, want := b.focus(), "Type a reading"; !strings.HasSuffix(got.Stop, want) {
			t.Errorf("on %s the focus is on %q, not back on %s", b.path(), got.Stop, want)
		}
	})
}

func (b *tab) presses(key string) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.KeyEvent(key)))
}

// focus is where the keyboard is: the number of the stop, -1 for none.
type focus struct {
	At    int
	Flaws []string
	Stop  string
	Parts bool // the tab key stops at parts of it
}

func (b *tab) focus() focus {
	b.t.Helper()
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]byte]("(() => {"+finger+gates+"\nreturn focused()})()"))
	b.must(err)
	var f focus
	b.must(json.Unmarshal(found, &f))
	return f
}

// walks goes once around the page.
func (b *tab) walks(t *testing.T) {
	t.Helper()
	count, err := chromedp.Run(b.ctx, chromedp.Evaluate[int]("(() => {"+finger+gates+"\ndocument.body.tabIndex = -1;\ndocument.body.focus();\ndocument.body.removeAttribute(\"tabindex\");\nreturn stops().length})()"))
	b.must(err)
	met, last := map[int]bool{}, -1
	for range 2*count + 5 {
		b.presses(kb.Tab)
		f := b.focus()
		for _, flaw := range f.Flaws {
			t.Errorf("%s: %s", b.path(), flaw)
		}
		if f.At < 0 && f.Stop != "" {
			t.Errorf("%s: the tab key stops at %s, which nobody expects", b.path(), f.Stop)
		}
		if f.At == last && f.Parts {
			continue // day, month, year
		}
		if f.At == last && f.At >= 0 {
			t.Fatalf("%s: stuck on %s", b.path(), f.Stop)
		}
		if f.At >= 0 && f.At < last && !met[f.At] {
			t.Errorf("%s: %s comes too late", b.path(), f.Stop)
		}
		if met[f.At] || f.At < 0 && len(met) > 0 {
			break
		}
		met[f.At], last = true, f.At
	}
	if len(met) != count {
		missed, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string]("(() => {"+finger+gates+"\nreturn stops().map(brief)})()"))
		b.must(err)
		for i, stop := range missed {
			if !met[i] {
				t.Errorf("%s: the tab key does not come by %s", b.path(), stop)
			}
		}
	}
}
