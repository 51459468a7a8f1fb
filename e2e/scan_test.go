package e2e_test

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestScan holds tags of our own sheet before a browser's camera: one of a
// fluid, which is not what is asked for, then one of a unit, over and over.
func TestScan(t *testing.T) {
	a := demoApp(t)
	quality := takeTablet(t, a, true)
	quality.carries(visitAs(t, a, "keiko").cookie)
	quality.open("/tags?fluid=K-20&lot=K20-2604&expires=2027-03-31&count=1")
	fluid := quality.picture(".tags .qr")
	quality.open("/tags")
	unit := quality.picture(".tags .qr")

	b := takeTabletOf(t, a, browserWith(t, filmed(t, fluid, unit)), true)
	b.carries(visitAs(t, a, "marit").cookie)
	t.Run("a unit, at the start of a run", func(t *testing.T) {
		b.open("/runs/new")
		b.touches("Scan the unit's tag")
		b.ask("the unit is read", "holds", "Unit, by its tag", "BH-01")
	})
}

// picture is what one element looks like.
func (b *tab) picture(selector string) image.Image {
	b.t.Helper()
	taken, err := chromedp.Run(b.ctx, chromedp.Screenshot(chromedp.CSS(selector)))
	b.must(err)
	shown, err := png.Decode(bytes.NewReader(taken))
	b.must(err)
	return shown
}

// filmed makes a film that shows each picture for a second, for Chromium to
// take for a camera: YUV4MPEG2, grey.
func filmed(t *testing.T, pictures ...image.Image) string {
	t.Helper()
	const width, height, rate = 640, 480, 5
	var film bytes.Buffer
	film.WriteString("YUV4MPEG2 W640 H480 F5:1 Ip A1:1 C420jpeg\n")
	for _, p := range pictures {
		frame := bytes.Repeat([]byte{200}, width*height)
		side := p.Bounds().Dx()
		scale := float64(side) / 360 // of the picture's side in the film
		for y := range 360 {
			for x := range 360 {
				r, g, b, _ := p.At(p.Bounds().Min.X+int(float64(x)*scale), p.Bounds().Min.Y+int(float64(y)*scale)).RGBA()
				frame[(y+60)*width+x+140] = byte((r + g + b) / 3 >> 8)
			}
		}
		frame = append(frame, bytes.Repeat([]byte{128}, width*height/2)...)
		for range rate {
			film.WriteString("FRAME\n")
			film.Write(frame)
		}
	}
	path := filepath.Join(t.TempDir(), "tags.y4m")
	if err := os.WriteFile(path, film.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// browserWith starts a browser of its own whose camera shows a film.
func browserWith(t *testing.T, film string) context.Context {
	t.Helper()
	options, err := browserOptions(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	options = append(options,
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-video-capture", film),
	)
	allocator, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancelBrowser := chromedp.NewContext(allocator)
	t.Cleanup(cancelBrowser)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	return ctx
}
