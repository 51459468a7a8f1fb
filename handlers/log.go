package handlers

import "net/http"

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

func plainText(w http.ResponseWriter, text []byte) error {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, err := w.Write(text)
	return err
}
