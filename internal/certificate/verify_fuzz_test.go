package certificate_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"settlemark/internal/certificate"
)

// A genuine file with any bytes of it put in the place of others: no panic, and
// what was not issued does not pass, nor say anything of itself.
func FuzzVerify(f *testing.F) {
	policy, err := os.ReadFile(filepath.Join(vectorDir, "policy.txt"))
	if err != nil {
		f.Fatal(err)
	}
	issued, err := os.ReadFile(filepath.Join(vectorDir, "genuine.pdf"))
	if err != nil {
		f.Fatal(err)
	}
	for _, mark := range []string{"/Length ", "/Type /Page\n", " 0 R", "/Type /EmbeddedFile", "/Contents<", "/ByteRange [", "\nxref\n", "\n/Root ", "startxref\n", "%%EOF\n"} {
		for _, with := range []string{"", "0", "99999999", mark, "\n%%EOF\n"} {
			f.Add(uint(bytes.LastIndex(issued, []byte(mark))+len(mark)), uint(1), []byte(with))
		}
	}
	f.Add(uint(0), uint(len(issued)), []byte("%PDF-1.7\n%%EOF\n"))
	f.Add(uint(len(issued)), uint(0), []byte("\n%%EOF\n"))
	f.Fuzz(func(t *testing.T, at, cut uint, with []byte) {
		at %= uint(len(issued) + 1)
		end := min(at+cut%uint(len(issued)+1), uint(len(issued)))
		pdf := slices.Concat(issued[:at], with, issued[end:])
		r := trustOf(t, policy, "list.txt").Verify(pdf)
		if v := r.Verdict; v == certificate.Altered || v == certificate.NotOurs {
			if r.Number != "" || r.Unit != "" {
				t.Errorf("%s, and yet it says %s of itself", v, r.Number)
			}
			return
		}
		if !bytes.Equal(pdf, issued) {
			t.Errorf("passes and was never issued:\n%s", r.Text())
		}
	})
}
