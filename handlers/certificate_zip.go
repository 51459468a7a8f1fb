package handlers

import (
	"archive/zip"
	"errors"
	"net/http"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// CertificateZIP gives the chosen certificates, or all that pass the filter,
// with an index. Nothing is held in memory but one file.
func (s *Screens) CertificateZIP(w http.ResponseWriter, r *http.Request) error {
	chosen, err := s.chosen(r)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="certificates.zip"`)
	archive := zip.NewWriter(w)
	if err := errors.Join(s.pack(r, archive, chosen), archive.Close()); err != nil {
		s.Log.ErrorContext(r.Context(), "certificates as zip", "error", err.Error())
		panic(http.ErrAbortHandler) // its status is sent: break off, so that the file is seen to be not whole
	}
	return nil
}

func (s *Screens) chosen(r *http.Request) ([]commissioning.Certificate, error) {
	query := r.URL.Query()
	var chosen []commissioning.Certificate
	for _, number := range query["number"] {
		c, err := s.DB.Certificate(r.Context(), session.Person(r), commissioning.CertificateNumber(number))
		if err != nil {
			return nil, err
		}
		chosen = append(chosen, c)
	}
	if len(chosen) == 0 {
		f := respond.Frame(r, words.Text{}, templates.Certificates)
		all, err := s.filtered(r, query, f.Site.TimeZone)
		if err != nil {
			return nil, err
		}
		chosen = all
	}
	for _, c := range chosen {
		if !c.HasPDF {
			return nil, problem.New(problem.Busy, "Certificate %s is still being made. Try again in a moment.", c.Number)
		}
	}
	if len(chosen) == 0 {
		return nil, problem.New(problem.NotFound, "No certificate passes this filter. Widen it and download again.")
	}
	return chosen, nil
}

func (s *Screens) pack(r *http.Request, archive *zip.Writer, chosen []commissioning.Certificate) error {
	for _, c := range chosen {
		pdf, _, err := s.DB.CertificatePDF(r.Context(), session.Person(r), c.Number)
		if err != nil {
			return err
		}
		file, err := archive.CreateHeader(&zip.FileHeader{Name: string(c.Number) + ".pdf", Method: zip.Store, Modified: c.ReleasedAt.UTC()})
		if err != nil {
			return err
		}
		if _, err := file.Write(pdf); err != nil {
			return err
		}
	}
	index, err := archive.CreateHeader(&zip.FileHeader{Name: "index.csv", Method: zip.Deflate, Modified: chosen[0].ReleasedAt.UTC()})
	if err != nil {
		return err
	}
	return writeCSV(index, indexRows(chosen, s.Now()))
}

func indexRows(list []commissioning.Certificate, now time.Time) [][]string {
	rows := [][]string{{
		"number", "status", "unit", "site", "line", "run", "released_at", "valid_until",
		"engineer", "supervisor", "lots", "superseded_by", "superseded_at", "withdrawn_at", "withdrawn_by", "withdrawn_for",
		"withdrawn_cause", "sha256",
	}}
	for _, c := range list {
		rows = append(rows, []string{
			string(c.Number), string(c.Status(now)), c.Unit, c.SiteName, c.Line, c.RunNumber.String(),
			instant(&c.ReleasedAt), instant(c.ValidUntil), c.Engineer, c.Supervisor, strings.Join(c.Lots, " "),
			string(c.SupersededBy), instant(c.SupersededAt), instant(c.WithdrawnAt), c.WithdrawnBy, c.WithdrawnFor,
			c.WithdrawnCause, c.PDFHash,
		})
	}
	return rows
}
