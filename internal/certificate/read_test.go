package certificate_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

func TestReadGivesBackWhatWasAttached(t *testing.T) {
	for name, make := range cases {
		t.Run(name, func(t *testing.T) {
			in, photos := make(t)
			pdf, doc := render(t, in, photos)
			got, err := certificate.Read(pdf)
			if err != nil {
				t.Fatal(err)
			}
			if got.Number != doc.Number || string(got.Logbook) != doc.Attached[0].Text || string(got.Assessment) != doc.Attached[1].Text {
				t.Error("number, logbook or assessment differ from the document")
			}
		})
	}
}

// The evidence inside must be judged to the judgement inside.
func TestAttachedLogbookGivesTheAttachedAssessment(t *testing.T) {
	for name, make := range cases {
		t.Run(name, func(t *testing.T) {
			in, photos := make(t)
			pdf, _ := render(t, in, photos)
			got, err := certificate.Read(pdf)
			if err != nil {
				t.Fatal(err)
			}
			book, err := commissioning.ParseLogbook(bytes.NewReader(got.Logbook))
			if err != nil {
				t.Fatal(err)
			}
			if again := rules.Encode(rules.Judge(book, book.At)); !bytes.Equal(again, got.Assessment) {
				t.Errorf("judged again:\n%s\nattached:\n%s", again, got.Assessment)
			}
		})
	}
}

func TestReadRefusesWhatIsNotOurs(t *testing.T) {
	in, photos := plain(t)
	pdf, _ := render(t, in, photos)
	swap := func(old, with string) []byte {
		t.Helper()
		if !bytes.Contains(pdf, []byte(old)) {
			t.Fatalf("no %q in the file", old)
		}
		return bytes.Replace(bytes.Clone(pdf), []byte(old), []byte(with), 1)
	}
	for name, file := range map[string][]byte{
		"nothing":                          nil,
		"text":                             []byte("%PDF-1.7\nhello"),
		"bytes after the end":              append(bytes.Clone(pdf), "\n%%EOF\n"...),
		"bytes before the beginning":       append([]byte("\n"), pdf...),
		"cut short":                        pdf[:len(pdf)-7],
		"a second end":                     append(bytes.Clone(pdf), pdf[len(pdf)-180:]...),
		"another version":                  swap("%PDF-1.7", "%PDF-1.6"),
		"a byte between two objects":       swap("endobj\n", "endobj\n%"),
		"another length":                   swap("/Size ", "/Siz2 "),
		"attachment under another name":    swap("\x00l\x00o\x00g\x00b\x00o\x00o\x00k", "\x00l\x00o\x00g\x00b\x00o\x00o\x00c"),
		"object out of its place":          swap(" 00000 n \n", " 00001 n \n"),
		"title without a number":           swap("\x00C\x00e\x00r\x00t\x00i\x00f", "\x00c\x00e\x00r\x00t\x00i\x00f"),
		"larger than a certificate can be": append(bytes.Clone(pdf), make([]byte, 21<<20)...),
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := certificate.Read(file); !errors.Is(err, certificate.ErrNotOurs) {
				t.Errorf("read with error %v", err)
			}
		})
	}
}

func TestReadRefusesBytesBeforeTheTable(t *testing.T) {
	in, photos := plain(t)
	pdf, _ := render(t, in, photos)
	table := bytes.LastIndex(pdf, []byte("xref\n0 "))
	file := append(bytes.Clone(pdf[:table]), "% something else\n"...)
	file = append(file, bytes.Replace(pdf[table:], fmt.Appendf(nil, "\n%d\n", table), fmt.Appendf(nil, "\n%d\n", len(file)), 1)...)
	if _, err := certificate.Read(file); !errors.Is(err, certificate.ErrNotOurs) {
		t.Errorf("read with error %v", err)
	}
}

// A few kilobytes may unpack to more than fits in memory.
func TestReadRefusesToUnpackWithoutEnd(t *testing.T) {
	in, photos := plain(t)
	_, doc := render(t, in, photos)
	doc.Attached[0].Text = strings.Repeat(" ", 33<<20)
	pdf, err := certificate.Render(doc, photos, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := certificate.Read(pdf); !errors.Is(err, certificate.ErrNotOurs) {
		t.Errorf("read with error %v", err)
	}
}

// What is attached is found altered: unpacked bytes carry a checksum, and the
// rest of the file is framed by its table.
func TestReadNeverGivesAlteredEvidence(t *testing.T) {
	in, photos := plain(t)
	pdf, doc := render(t, in, photos)
	for at := 0; at < len(pdf); at += 97 {
		file := bytes.Clone(pdf)
		file[at] ^= 0x20
		got, err := certificate.Read(file)
		if err == nil && (string(got.Logbook) != doc.Attached[0].Text || string(got.Assessment) != doc.Attached[1].Text) {
			t.Fatalf("byte %d flipped gives other evidence", at)
		}
	}
}

func FuzzRead(f *testing.F) {
	t := &testing.T{}
	in, photos := plain(t)
	pdf, _ := render(t, in, photos)
	f.Add(pdf)
	if signed, err := os.ReadFile(filepath.Join(vectorDir, "genuine.pdf")); err == nil {
		f.Add(signed)
	}
	f.Add([]byte(strings.Repeat("%PDF-1.7\n1 0 obj\nendobj\n", 3)))
	f.Fuzz(func(t *testing.T, file []byte) {
		got, err := certificate.Read(file)
		if (err == nil) != (got.Number != "" && got.Logbook != nil) {
			t.Errorf("%v with %q", err, got.Number)
		}
	})
}
