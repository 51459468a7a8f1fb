package e2e_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// assessment is what `settlemark evaluate` prints.
type assessment struct {
	Verdict string `json:"verdict"`
	Gates   []struct{ Gate, Verdict string }
}

func (a assessment) gate(name string) string {
	for _, g := range a.Gates {
		if g.Gate == name {
			return g.Verdict
		}
	}
	return ""
}

// evaluated judges a logbook with the program, as anybody can.
func evaluated(t *testing.T, logbook string) assessment {
	t.Helper()
	path := filepath.Join(t.TempDir(), "logbook.json")
	if err := os.WriteFile(path, []byte(logbook), 0o600); err != nil {
		t.Fatal(err)
	}
	var a assessment
	if err := json.Unmarshal(run(t, program, "evaluate", path), &a); err != nil {
		t.Fatal(err)
	}
	return a
}

// checkPDF downloads a certificate as quality and reads it with other people's
// programs; the attached logbook must judge to the attached assessment.
func checkPDF(t *testing.T, a *app, number, unit string) {
	t.Helper()
	v := visitAs(t, a, "quill")
	got := v.reads("/certificates/" + number + ".pdf")
	if kind := got.header.Get("Content-Type"); kind != "application/pdf" {
		t.Errorf("the certificate comes as %s", kind)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, number+".pdf")
	if err := os.WriteFile(file, []byte(got.body), 0o600); err != nil {
		t.Fatal(err)
	}
	run(t, tool(t, "qpdf", "qpdf"), "--check", file)
	if text := string(run(t, tool(t, "pdftotext", "poppler-utils"), "-layout", file, "-")); !strings.Contains(text, number) ||
		!strings.Contains(text, unit) || !strings.Contains(text, "Nela Voss") || !strings.Contains(text, "Osric Tamm") {
		t.Errorf("pdftotext does not find number, unit and both names in\n%s", text)
	}
	info := string(run(t, tool(t, "pdfinfo", "poppler-utils"), file))
	for _, pages := range []string{"2", "3", "4"} {
		if strings.Contains(strings.Join(strings.Fields(info), " "), "Pages: "+pages) {
			info = ""
			break
		}
	}
	if info != "" {
		t.Errorf("pdfinfo does not find two to four pages: %s", info)
	}
	run(t, tool(t, "pdfdetach", "poppler-utils"), "-saveall", "-o", dir, file)
	attached, err := os.ReadFile(filepath.Join(dir, "assessment.json"))
	if err != nil {
		t.Fatal(err)
	}
	again := run(t, program, "evaluate", filepath.Join(dir, "logbook.json"))
	if !bytes.Equal(attached, again) {
		t.Errorf("the attached logbook judges to\n%s\nthe attached assessment is\n%s", again, attached)
	}
}
