package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"settlemark/web/session"
)

// TrailProof gives the leaf that tells of a line of the trail and its proof
// against the newest checkpoint, as text: a C2SP tlog-proof under the leaf.
func (s *Screens) TrailProof(w http.ResponseWriter, r *http.Request) error {
	leaf, proof, err := s.DB.TrailProof(r.Context(), session.Person(r), chi.URLParam(r, "line"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, err = w.Write(append(append(leaf, "\n\n"...), proof...)) //nolint:gosec // plain text, and no sniffing
	return err
}
