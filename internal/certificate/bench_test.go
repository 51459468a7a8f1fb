package certificate_test

import (
	"testing"

	"settlemark/internal/certificate"
)

func BenchmarkRead(b *testing.B) {
	t := &testing.T{}
	in, photos := plain(t)
	pdf, _ := render(t, in, photos)
	for b.Loop() {
		if _, err := certificate.Read(pdf); err != nil {
			b.Fatal(err)
		}
	}
}

// A certificate as it is issued, three pages with chart, photos, fonts and four
// attachments: composed, drawn, signed and read back, beside what a browser
// takes to print the same words, chart and photos from a page. One tab is open
// already; the other browser has to be started.
func BenchmarkIssue_and_a_warm_browser(b *testing.B) {
	b.Run("ours", func(b *testing.B) { benchmarkIssue(b, 12) })
	b.Run("Chromium", func(b *testing.B) {
		address := asPage(b)
		tab, end := openTab(b)
		defer end()
		printPage(b, tab, address)
		for b.Loop() {
			printPage(b, tab, address)
		}
	})
}

func BenchmarkIssue_and_a_cold_browser(b *testing.B) {
	b.Run("ours", func(b *testing.B) { benchmarkIssue(b, 70) })
	b.Run("Chromium", func(b *testing.B) {
		address := asPage(b)
		for b.Loop() {
			tab, end := openTab(b)
			printPage(b, tab, address)
			end()
		}
	})
}

func benchmarkIssue(b *testing.B, faster float64) {
	in, photos := plain(&testing.T{})
	for b.Loop() {
		doc, err := certificate.Compose(in)
		if err != nil {
			b.Fatal(err)
		}
		pdf, err := certificate.Render(doc, photos, someProof)
		if err != nil {
			b.Fatal(err)
		}
		if pdf, err = siteSigner.Sign(pdf); err != nil {
			b.Fatal(err)
		}
		if _, err = certificate.Read(pdf); err != nil {
			b.Fatal(err)
		}
		if signer, err := certificate.SignedBy(pdf); err != nil || signer != doc.Signer {
			b.Fatal(signer, err)
		}
	}
	b.ReportMetric(1/faster, "x-at-most")
}
