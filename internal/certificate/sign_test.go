package certificate_test

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"settlemark/internal/certificate"
)

// signed renders and signs a run.
func signed(t *testing.T, make making) ([]byte, certificate.Document) {
	t.Helper()
	in, photos := make(t)
	pdf, doc := render(t, in, photos)
	file, err := siteSigner.Sign(pdf)
	if err != nil {
		t.Fatal(err)
	}
	return file, doc
}

// pdfsig says what it thinks of the signature; the certificate is its owner's
// own, so no reader's list of authorities is asked.
func pdfsig(t *testing.T, pdf []byte) string {
	t.Helper()
	return tool(t, "pdfsig", "-nocert", file(t, pdf))
}

func TestSignedFile(t *testing.T) {
	pdf, doc := signed(t, everything)
	path := file(t, pdf)
	t.Run("a reader says that the signature is valid and covers all", func(t *testing.T) {
		said := pdfsig(t, pdf)
		for _, want := range []string{"Signature is Valid", "Total document signed", "marks.brackenhill.example", "SHA-256"} {
			if !strings.Contains(said, want) {
				t.Errorf("not said: %s\n%s", want, said)
			}
		}
	})
	t.Run("it certifies that nothing may be changed", func(t *testing.T) {
		said := tool(t, "qpdf", "--qdf", "--object-streams=disable", path, "-")
		for _, want := range []string{"/Perms", "/DocMDP", "/P 1\n", "/SigFlags 3"} {
			if !strings.Contains(said, want) {
				t.Errorf("not in the file: %s", want)
			}
		}
	})
	t.Run("a reader finds no fault in the file", func(t *testing.T) {
		if out := tool(t, "qpdf", "--check", path); strings.Contains(strings.ToLower(out), "warning") {
			t.Error(out)
		}
	})
	t.Run("what is attached survives", func(t *testing.T) {
		dir := t.TempDir()
		tool(t, "pdfdetach", "-saveall", "-o", dir, path)
		record, err := doc.Encode()
		if err != nil {
			t.Fatal(err)
		}
		for name, want := range map[string]string{
			certificate.LogbookName: doc.Attached[0].Text, certificate.AssessmentName: doc.Attached[1].Text,
			certificate.RecordName: string(record), certificate.ProofName: string(proofOf(t, doc)),
		} {
			got, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil || string(got) != want {
				t.Errorf("%s comes out altered: %v", name, err)
			}
		}
	})
	t.Run("one flipped byte is a digest mismatch", func(t *testing.T) {
		altered := bytes.Clone(pdf)
		altered[bytes.Index(pdf, []byte("/Title ("))+12] ^= 1
		if said := pdfsigSays(t, altered); !strings.Contains(said, "Digest Mismatch") {
			t.Error(said)
		}
	})
	t.Run("with bytes behind it the file is no longer signed as a whole", func(t *testing.T) {
		if said := pdfsigSays(t, append(bytes.Clone(pdf), "\n% later\n"...)); !strings.Contains(said, "Not total document signed") {
			t.Error(said)
		}
	})
	t.Run("what was there before stays as it was", func(t *testing.T) {
		in, photos := everything(t)
		if unsigned, _ := render(t, in, photos); !bytes.HasPrefix(pdf, unsigned) {
			t.Error("signing changed what Render wrote")
		}
	})
}

// pdfsigSays is for files at which pdfsig ends with an error.
func pdfsigSays(t *testing.T, pdf []byte) string {
	t.Helper()
	tool(t, "pdfsig", "-v")
	out, err := exec.Command("pdfsig", "-nocert", file(t, pdf)).CombinedOutput()
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		t.Fatal(err)
	}
	return string(out)
}

func TestSignatureOfAFile(t *testing.T) {
	in, photos := plain(t)
	unsigned, doc := render(t, in, photos)
	pdf, err := siteSigner.Sign(unsigned)
	if err != nil {
		t.Fatal(err)
	}
	t.Run("names the certificate that the document names", func(t *testing.T) {
		if by, err := certificate.SignedBy(pdf); err != nil || by != doc.Signer {
			t.Errorf("signed by %s, %v", by, err)
		}
	})
	t.Run("is missing from a file that was not signed", func(t *testing.T) {
		if by, err := certificate.SignedBy(unsigned); err != nil || by != "" {
			t.Errorf("signed by %q, %v", by, err)
		}
	})
	t.Run("does not stand in another file", func(t *testing.T) {
		other := newStory(t)
		other.play(nil)
		unsigned, _ := render(t, other.source(), other.photos)
		file, err := siteSigner.Sign(unsigned)
		if err != nil {
			t.Fatal(err)
		}
		if by, err := certificate.SignedBy(withSignatureOf(t, file, pdf)); err == nil {
			t.Errorf("the signature of one file stands in another, by %s", by)
		}
		if by, err := certificate.SignedBy(withSignatureOf(t, pdf, pdf)); err != nil || by != doc.Signer {
			t.Errorf("put back where it was: %s, %v", by, err)
		}
	})
	t.Run("falls with any flipped bit", func(t *testing.T) {
		for at := 0; at < len(pdf); at++ {
			if at < len(unsigned)-500 && at%211 != 0 {
				continue // every byte where the signature stands, a part of the others
			}
			altered := bytes.Clone(pdf)
			altered[at] ^= 1
			if by, err := certificate.SignedBy(altered); err == nil && by == doc.Signer {
				t.Fatalf("byte %d of %d flipped and nobody minds", at, len(pdf))
			}
		}
	})
	t.Run("falls with any byte behind it", func(t *testing.T) {
		for _, more := range []string{"\n", " ", "%", "\x00", string(pdf[len(pdf)-1000:])} {
			if by, err := certificate.SignedBy(append(bytes.Clone(pdf), more...)); err == nil {
				t.Errorf("with %.5q: signed by %q", more, by)
			}
		}
	})
}

// withSignatureOf puts the signature of one file into another.
func withSignatureOf(t *testing.T, pdf, other []byte) []byte {
	t.Helper()
	shape := regexp.MustCompile(`/Contents<[0-9a-f]+>`)
	from, to := shape.Find(other), shape.FindIndex(pdf)
	if to == nil || len(from) != to[1]-to[0] {
		t.Fatalf("%d digits of a signature do not fit into %v", len(from), to)
	}
	altered := bytes.Clone(pdf)
	copy(altered[to[0]:], from)
	return altered
}
