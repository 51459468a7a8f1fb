package web_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"settlemark/handlers"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
)

// upload posts a file on the verify page, as a browser without scripts does.
func (b *browser) upload(field string, file []byte) answer {
	b.t.Helper()
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	part, err := parts.CreateFormFile(field, "certificate.pdf")
	if err == nil {
		_, err = part.Write(file)
	}
	if err = errors.Join(err, parts.Close()); err != nil {
		b.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, b.base+urls.VerifyPattern, &body)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", parts.FormDataContentType())
	response, err := b.http.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return answer{b.t, response.StatusCode, response.Header, string(text)}
}

// verified: what a stranger sees who uploads a file. How the file is looked at is
// tested in certificate and cmd; here it is the page.
func (s *site) verified(t *testing.T) {
	digest := func(number string) string {
		sum, err := hex.DecodeString(s.text(`select encode(digest, 'hex') from settlemark.releases where number = '` + number + `'`))
		s.must(err)
		return hex.EncodeToString(sum)
	}
	var found handlers.FileCheck
	var refused error
	asked := ""
	s.screens.Check = func(_ context.Context, pdf []byte) (handlers.FileCheck, error) {
		asked = hex.EncodeToString(sha256.New().Sum(pdf[:min(4, len(pdf))]))
		return found, refused
	}
	visitor := s.browser()
	pdf := []byte("%PDF-1.7\n")
	t.Run("code and file show the same part", func(t *testing.T) {
		found = handlers.FileCheck{Verdict: 4, Number: "C-0001", Digest: digest("C-0001")}
		byCode := visitor.get("/verify?code=C-0001+" + found.Digest[:10]).wants(http.StatusOK)
		byFile := visitor.upload("file", pdf).wants(http.StatusOK)
		facts := func(a answer) string {
			return strings.Join(strings.Fields(a.page().Find("main [role=status], main dl").Text()), " ")
		}
		if got, want := facts(byFile), facts(byCode); got != want || !strings.Contains(want, "C-0001") {
			t.Errorf("by file %q, by code %q", got, want)
		}
		if asked == "" {
			t.Error("the file was not looked at")
		}
	})
	t.Run("a genuine file shows what the site knows today", func(t *testing.T) {
		number := s.text(`select number from settlemark.certificate_rows where withdrawn_at is not null limit 1`)
		found = handlers.FileCheck{Verdict: 0, Number: number, Digest: digest(number)}
		visitor.upload("file", pdf).wants(http.StatusOK, "Withdrawn", number)
	})
	t.Run("never more than status, unit, dates and number", func(t *testing.T) {
		found = handlers.FileCheck{Verdict: 5, Number: "C-0001", Digest: digest("C-0001")}
		text := visitor.upload("file", pdf).text()
		for _, column := range []string{"engineer", "supervisor", "site_name", "line", "lots[1]"} {
			if secret := s.text(`select ` + column + ` from settlemark.certificate_rows where number = 'C-0001'`); strings.Contains(text, secret) {
				t.Errorf("shows %s %q", column, secret)
			}
		}
	})
	for name, c := range map[string]struct {
		check  handlers.FileCheck
		status int
		says   string
	}{
		"an altered file names no certificate":          {handlers.FileCheck{Verdict: 1}, http.StatusOK, "Altered: this file does not say what was released."},
		"a file of somebody else is unknown":            {handlers.FileCheck{Verdict: 2}, http.StatusNotFound, "Unknown: this file is no certificate of this site"},
		"a release that is not here is unknown":         {handlers.FileCheck{Number: "C-0999", Digest: strings.Repeat("0", 64)}, http.StatusNotFound, "Unknown: this file"},
		"a record that is not here is unknown":          {handlers.FileCheck{Number: "C-0001", Digest: strings.Repeat("0", 64)}, http.StatusNotFound, "Unknown: this file"},
		"a number alone, without record, shows nothing": {handlers.FileCheck{Number: "C-0001"}, http.StatusNotFound, "Unknown: this file"},
	} {
		t.Run(name, func(t *testing.T) {
			found = c.check
			if a := visitor.upload("file", pdf).wants(c.status, c.says); strings.Contains(a.text(), "C-0001") {
				t.Errorf("names it: %s", a.text())
			}
		})
	}
	t.Run("an empty form, another field and a file too large are refused beside the field", func(t *testing.T) {
		visitor.upload("file", nil).wants(http.StatusUnprocessableEntity, "Choose the PDF first.")
		visitor.upload("files", pdf).wants(http.StatusUnprocessableEntity, "Choose the PDF first.")
		visitor.upload("file", make([]byte, 20<<20+1)).wants(http.StatusUnprocessableEntity, "larger than 20 MB")
	})
	t.Run("while others are looked at it is busy", func(t *testing.T) {
		refused = problem.New(problem.Busy, "Other files are being checked. Try again in a moment.")
		defer func() { refused = nil }()
		if a := visitor.upload("file", pdf).wants(http.StatusServiceUnavailable, "Other files are being checked"); a.header.Get("Retry-After") == "" {
			t.Error("does not say when to come again")
		}
	})
	t.Run("not often from one address", func(t *testing.T) {
		asked = ""
		for range 40 {
			if a := visitor.upload("file", pdf); strings.Contains(a.text(), "Too many look-ups.") {
				asked = ""
				visitor.upload("file", pdf)
				if asked != "" {
					t.Error("refused, and looked at all the same")
				}
				return
			}
		}
		t.Error("40 files were looked at")
	})
}
