package e2e_test

import (
	"fmt"
	"net/url"
	"os"
	"testing"
)

// TestGerman holds the screens of the work against what German brings: words
// that are longer, at each size. The long screens stand for the others.
func TestGerman(t *testing.T) {
	a := demoApp(t)
	if err := os.MkdirAll(out, 0o755); err != nil {
		t.Fatal(err)
	}
	v := visitAs(t, a, "yusuf")
	v.send("/account/reading", url.Values{"language": {"de"}})
	defer v.send("/account/reading", url.Values{"language": {""}})
	run := func(unit string) string { return v.link("/units/"+unit, "a[href^='/runs/']") }
	hold := run("BH-10")
	b := takeTablet(t, a, true)
	b.carries(v.cookie)
	for _, s := range []screen{
		{"de-run", "", hold, fieldTarget},
		{"de-step", "", run("BH-08"), fieldTarget},
		{"de-reading", "", hold + "/reading?quantity=viscosity", fieldTarget},
		{"de-review", "", run("BH-02") + "/review", deskTarget},
		{"de-board", "", "/board", deskTarget},
	} {
		t.Run(s.name, func(t *testing.T) {
			b.size(sizes[0].width, sizes[0].height)
			b.open(s.path)
			b.ask("the page has its fonts", "ready")
			if s.name == "de-reading" {
				b.types("Ink viscosity, in mPa·s", "4,7")
				b.sees("4,7 speichern", "Im Band")
			}
			g := gate{t, b, s.path}
			for _, size := range sizes {
				b.size(size.width, size.height)
				measure(t, b, fmt.Sprintf("at %d × %d", size.width, size.height), s.least)
				g.checks(fmt.Sprintf("at %d × %d", size.width, size.height), "clipped()")
				save(t, b, fmt.Sprintf("%s-%d.png", s.name, size.width))
			}
		})
	}
}
