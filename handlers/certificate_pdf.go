package handlers

import (
	"bytes"
	"fmt"
	"net/http"

	"settlemark/web/session"
)

// CertificatePDF gives the stored file; its bytes never change.
func (s *Screens) CertificatePDF(w http.ResponseWriter, r *http.Request) error {
	p, number := session.Person(r), certificateNumber(r)
	c, err := s.DB.Certificate(r.Context(), p, number)
	if err != nil {
		return err
	}
	pdf, hash, err := s.DB.CertificatePDF(r.Context(), p, number)
	if err != nil {
		return err
	}
	header := w.Header()
	header.Set("Content-Type", "application/pdf")
	header.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", string(number)+".pdf"))
	header.Set("ETag", `"`+hash+`"`)
	header.Set("Cache-Control", "private, max-age=31536000, immutable")
	http.ServeContent(w, r, "", c.ReleasedAt, bytes.NewReader(pdf))
	return nil
}
