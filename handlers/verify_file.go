package handlers

import (
	"context"
	"io"
	"net/http"

	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
)

// mostFile is the largest certificate that is looked at.
const mostFile = 20 << 20

// FileCheck is what came of looking at a stranger's file: the verdict as the
// exit status of settlemark verify, and which certificate it is when genuine.
type FileCheck struct {
	Verdict int    `json:"verdict"`
	Number  string `json:"number"`
	Digest  string `json:"digest"` // hex, of its record
}

// CheckFile looks at a stranger's file, never in this process. It is Busy while
// as many are looked at as this machine can bear.
type CheckFile func(ctx context.Context, pdf []byte) (FileCheck, error)

const (
	fileAltered = 1
	fileForeign = 2
)

// VerifyFile says to anybody with the file of a certificate what the code on it
// would tell, once the file is found to be what was issued.
func (s *Screens) VerifyFile(w http.ResponseWriter, r *http.Request) error {
	f := respond.Frame(r, words.Say("Check a certificate"), templates.Certificates)
	v := templates.VerifyView{Now: s.Now()}
	status, err := s.verifyFile(r, &v)
	switch problem.KindOf(err) {
	case problem.Invalid, problem.Busy, problem.TooMany:
		v.File = parts.Form{Err: err}
		return respond.Refused(w, r, err, templates.VerifyPage(f, v))
	}
	if err != nil {
		return err
	}
	return respond.HTML(w, r, status, templates.VerifyPage(f, v))
}

func (s *Screens) verifyFile(r *http.Request, v *templates.VerifyView) (status int, err error) {
	if err := s.Acts.MayLookUp(r.Context(), middleware.GetClientIP(r.Context()), v.Now); err != nil {
		return 0, err
	}
	pdf, err := decodeFile(r)
	if err != nil {
		return 0, err
	}
	check, err := s.Check(r.Context(), pdf)
	switch {
	case err != nil:
		return 0, err
	case check.Verdict == fileAltered:
		v.Altered = true
		return http.StatusOK, nil
	case check.Verdict == fileForeign:
		v.Unknown = "file"
		return http.StatusNotFound, nil
	}
	found, err := s.Acts.LookUpRecord(r.Context(), check.Number, check.Digest)
	if problem.KindOf(err) == problem.NotFound {
		v.Unknown = "file"
		return http.StatusNotFound, nil
	}
	v.Found = &found
	return http.StatusOK, err
}

// decodeFile reads the one field of the form.
func decodeFile(r *http.Request) ([]byte, error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, problem.New(problem.Invalid, "This form can't be read. Reload the page and choose the file again.")
	}
	part, err := form.NextPart()
	if err != nil || part.FormName() != "file" {
		return nil, problem.On("file", "Choose the PDF first.")
	}
	pdf, err := io.ReadAll(io.LimitReader(part, mostFile+1))
	switch {
	case err != nil:
		return nil, tooLargeOrBroken(err)
	case len(pdf) == 0:
		return nil, problem.On("file", "Choose the PDF first.")
	case len(pdf) > mostFile:
		if _, err := io.Copy(io.Discard, part); err != nil {
			return nil, tooLargeOrBroken(err)
		}
		return nil, problem.On("file", "This file is larger than 20 MB; no certificate is. Choose the PDF as it was issued.")
	}
	return pdf, nil
}
