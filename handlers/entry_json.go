package handlers

import (
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/web/respond"
	"settlemark/web/session"
)

func isJSON(r *http.Request) bool {
	media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && media == "application/json"
}

// recordJSON stores one entry that came as JSON: the same decoder, the same
// act, and an answer that a script can read.
func (s *Screens) recordJSON(w http.ResponseWriter, r *http.Request) error {
	seq, err := s.jsonEntry(r)
	if err == nil {
		return writeJSON(w, http.StatusOK, map[string]any{"seq": seq})
	}
	var p *problem.Error
	if !errors.As(err, &p) {
		return err
	}
	return writeJSON(w, respond.Status(p.Kind), map[string]any{"problem": p.Sentence.In(words.ReaderOf(r.Context()).Language), "field": p.Field})
}

func (s *Screens) jsonEntry(r *http.Request) (int, error) {
	data, err := io.ReadAll(r.Body)
	if err != nil {
		return 0, tooLargeOrBroken(err)
	}
	v, err := s.runView(r)
	if err != nil {
		return 0, err
	}
	e, err := commissioning.DecodeEntry(data, v.Procedure)
	if err != nil {
		return 0, err
	}
	if err := e.NoPen(); err != nil {
		return 0, err
	}
	by := act.Author{Person: *v.Viewer, Device: session.Device(r)}
	recorded, err := s.Acts.Record(r.Context(), by, v.Run.ID, []commissioning.Entry{e}, s.Now())
	if err != nil {
		return 0, err
	}
	return recorded.Seqs[0], nil
}

func writeJSON(w http.ResponseWriter, status int, body any) error {
	data, err := json.Marshal(body)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(data) // a reader that went away is no fault of ours
	return nil
}
