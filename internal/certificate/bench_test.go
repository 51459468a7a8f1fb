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

// A certificate as it is issued: three pages with chart, photos, fonts and four
// attachments, drawn and signed. What a browser takes to print the same is
// measured elsewhere; this is our side.
func BenchmarkRender(b *testing.B) {
	benchmarkFile(b, func(pdf []byte) ([]byte, error) { return pdf, nil })
}

func BenchmarkRenderAndSign(b *testing.B) { benchmarkFile(b, siteSigner.Sign) }

func benchmarkFile(b *testing.B, finish func([]byte) ([]byte, error)) {
	t := &testing.T{}
	in, photos := plain(t)
	doc, err := certificate.Compose(in)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		pdf, err := certificate.Render(doc, photos, someProof)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := finish(pdf); err != nil {
			b.Fatal(err)
		}
	}
}
