package handlers

import (
	"bytes"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"settlemark/web/session"
)

// ShowPhoto serves one photo of a run to somebody who may read the run. Its
// address is the hash of its bytes, so it never changes.
func (s *Screens) ShowPhoto(w http.ResponseWriter, r *http.Request) error {
	hash := strings.ToLower(chi.URLParam(r, "sha256"))
	photo, err := s.DB.Photo(r.Context(), session.Person(r), runID(r), hash)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", photo.MediaType)
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	h.Set("ETag", `"`+photo.SHA256+`"`)
	h.Set("Content-Disposition", "inline")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(photo.Bytes))
	return nil
}
