package certificate_test

import (
	"testing"

	"settlemark/internal/certificate"
)

func TestVerify(t *testing.T) {
	for name, make := range map[string]making{"plain": plain, "everything": everything, "small": small} {
		t.Run(name+" is genuine", func(t *testing.T) {
			h := newHouse(t, origin, siteSigner)
			in, photos := make(t)
			pdf := h.issue(h.release(in), photos)
			r := h.trust(list()).Verify(pdf)
			t.Logf("%d bytes\n%s", len(pdf), r.Text())
			if r.Verdict != certificate.Genuine {
				t.Fail()
			}
			if c, found := r.FirstNot(certificate.OK); found {
				t.Errorf("%+v", c)
			}
		})
	}
}
