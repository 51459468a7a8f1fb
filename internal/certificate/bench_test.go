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

func BenchmarkRender(b *testing.B) {
	t := &testing.T{}
	in, photos := plain(t)
	doc, err := certificate.Compose(in)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := certificate.Render(doc, photos, nil); err != nil {
			b.Fatal(err)
		}
	}
}
