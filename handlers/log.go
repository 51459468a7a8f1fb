package handlers

import (
	"bytes"
	"net/http"
	"strconv"
)

// LogPolicy serves the policy file: with it anybody can check certificates
// without asking us.
func (s *Screens) LogPolicy(w http.ResponseWriter, r *http.Request) error {
	text, err := s.Acts.LogPolicy(r.Context())
	if err != nil {
		return err
	}
	return plainText(w, []byte(text))
}

// LogCheckpoint serves the newest signed checkpoint of the log.
func (s *Screens) LogCheckpoint(w http.ResponseWriter, r *http.Request) error {
	newest, err := s.DB.LogCheckpoint(r.Context(), 0)
	if err != nil {
		return err
	}
	return plainText(w, newest.Signed)
}

// LogStatus serves the newest signed list of certificates that no longer stand.
// Whoever checks certificates keeps it; caches may hold it for a minute.
func (s *Screens) LogStatus(w http.ResponseWriter, r *http.Request) error {
	newest, err := s.DB.StatusList(r.Context())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "public, max-age=60")
	w.Header().Set("Cross-Origin-Resource-Policy", "cross-origin")
	w.Header().Set("ETag", `"`+strconv.FormatInt(newest.Number, 10)+`"`)
	http.ServeContent(w, r, "", newest.IssuedAt, bytes.NewReader(newest.Signed))
	return nil
}

func plainText(w http.ResponseWriter, text []byte) error {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, err := w.Write(text)
	return err
}
