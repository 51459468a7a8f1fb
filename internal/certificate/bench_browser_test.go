package certificate_test

import (
	"context"
	"encoding/base64"
	"html/template"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"settlemark/internal/certificate"
)

// asPage writes what a certificate says as a page that a browser can print.
func asPage(b *testing.B) (address string) {
	b.Helper()
	in, photos := plain(&testing.T{})
	doc, err := certificate.Compose(in)
	if err != nil {
		b.Fatal(err)
	}
	page := struct {
		certificate.Document
		Chart    template.HTML
		Pictures []template.URL
	}{Document: doc, Chart: template.HTML(doc.Chart.SVG())}
	for _, p := range doc.Pictures {
		data := "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(photos[p.SHA256])
		page.Pictures = append(page.Pictures, template.URL(data))
	}
	path := filepath.Join(b.TempDir(), "certificate.html")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	if err := template.Must(template.ParseFiles("testdata/page.html")).Execute(f, page); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	return "file://" + path
}

// openTab starts a browser with one tab.
func openTab(b *testing.B) (tab context.Context, end func()) {
	b.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.DisableGPU)
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	tab, leave := chromedp.NewContext(allocator)
	if err := chromedp.Do(tab); err != nil {
		b.Fatalf("this benchmark needs a browser: install the Debian package chromium, or run make test: %v", err)
	}
	return tab, func() { leave(); stop() }
}

func printPage(b *testing.B, tab context.Context, address string) {
	b.Helper()
	if err := chromedp.Do(tab, chromedp.Navigate(address)); err != nil {
		b.Fatal(err)
	}
	if pdf, err := chromedp.Run(tab, chromedp.PrintToPDF()); err != nil || len(pdf) == 0 {
		b.Fatalf("%d bytes, %v", len(pdf), err)
	}
}
