package certificate_test

import (
	"os"
	"testing"
)

func TestPlain(t *testing.T) {
	in, photos := plain(t)
	pdf, _ := render(t, in, photos)
	if err := os.WriteFile("/tmp/fc/plain.pdf", pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	in, photos = everything(t)
	pdf, _ = render(t, in, photos)
	if err := os.WriteFile("/tmp/fc/odd.pdf", pdf, 0o600); err != nil {
		t.Fatal(err)
	}
}
