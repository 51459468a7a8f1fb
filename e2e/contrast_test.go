package e2e_test

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/png"
	"math"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// TestWithoutColour looks at the signs and controls of the main pages where
// their colours are taken away: a reader's own few colours, and grey paper. What
// shows only by a colour is gone there.
func TestWithoutColour(t *testing.T) {
	a := demoApp(t)
	all := screens(t, a)
	for _, name := range []string{"run-hold", "run-step", "reading", "board", "review", "certificate"} {
		s := all[slices.IndexFunc(all, func(s screen) bool { return s.name == name })]
		t.Run(name, func(t *testing.T) {
			b := takeTablet(t, a, true)
			b.carries(visitAs(t, a, s.login).cookie)
			b.open(s.path)
			b.ask("the page has its fonts", "ready")
			for _, look := range []emulation.SetEmulatedMediaParams{
				{Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}, {Name: "prefers-color-scheme", Value: "dark"}}},
				{Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}, {Name: "prefers-color-scheme", Value: "light"}}},
				{Media: "print"},
			} {
				b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
					_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, look)
					return err
				})))
				b.showsItsSigns(look.Media)
			}
		})
	}
}

// showsItsSigns finds in a picture of the window, by brightness alone, each
// sign and control of it.
func (b *tab) showsItsSigns(media string) {
	b.t.Helper()
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]byte]("(() => {"+finger+gates+"\nreturn signs()})()"))
	b.must(err)
	var signs []struct {
		What                string
		X, Y, Width, Height float64
	}
	b.must(json.Unmarshal(found, &signs))
	if len(signs) < 3 {
		b.t.Fatalf("%s %s shows %d signs", b.path(), media, len(signs))
	}
	shot, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	b.must(err)
	picture, err := png.Decode(bytes.NewReader(shot))
	b.must(err)
	for _, s := range signs {
		box := image.Rect(int(s.X)-2, int(s.Y)-2, int(s.X+s.Width)+2, int(s.Y+s.Height)+2).Intersect(picture.Bounds())
		if got := contrast(picture, box); got < 3 {
			b.t.Errorf("%s %s: contrast of %s is %.1f, at least 3", b.path(), media, s.What, got)
		}
	}
}

// contrast is that of the brightest and the darkest point, by WCAG 2.2
// (relative luminance and contrast ratio).
func contrast(picture image.Image, box image.Rectangle) float64 {
	darkest, brightest := 1.0, 0.0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			r, g, b, _ := picture.At(x, y).RGBA()
			l := 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
			darkest, brightest = min(darkest, l), max(brightest, l)
		}
	}
	return (brightest + 0.05) / (darkest + 0.05)
}

func linear(channel uint32) float64 {
	c := float64(channel) / 0xffff
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}
