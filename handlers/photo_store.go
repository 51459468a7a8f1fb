package handlers

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/problem"
	"settlemark/web/session"
)

// StorePhoto takes the bytes of a photo that a tablet took while it was without
// the server; the record that names it by the same hash follows.
func (s *Screens) StorePhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := io.ReadAll(r.Body)
	if err != nil {
		return s.refusal(w, r, tooLargeOrBroken(err))
	}
	sum := sha256.Sum256(photo)
	if hex.EncodeToString(sum[:]) != strings.ToLower(chi.URLParam(r, "sha256")) {
		return s.refusal(w, r, problem.On("photo", "This photo did not arrive as it was taken. Try again."))
	}
	if _, err := s.Acts.StorePhoto(r.Context(), session.Person(r), runID(r), photo, s.Now()); err != nil {
		return s.refusal(w, r, err)
	}
	return s.answer(w, http.StatusOK, map[string]any{})
}
