package handlers

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/problem"
)

// How long what a stranger reads may be kept.
const (
	forEver  = "public, max-age=31536000, immutable"
	aMinute  = "public, max-age=60"
	askAgain = "public, no-cache" // kept, and asked for again each time by its ETag
)

// LogPolicy serves the policy file: with it anybody can check certificates
// without asking us.
func (s *Screens) LogPolicy(w http.ResponseWriter, r *http.Request) error {
	text, err := s.Acts.LogPolicy(r.Context())
	if err != nil {
		return err
	}
	return public(w, r, plainText, askAgain, []byte(text), time.Time{})
}

// LogCheckpoint serves the newest signed checkpoint of an epoch of the log; of
// the newest where the address names none.
func (s *Screens) LogCheckpoint(w http.ResponseWriter, r *http.Request) error {
	epoch := 0
	if chi.URLParam(r, "epoch") != "" {
		var err error
		if epoch, err = epochOf(r); err != nil {
			return err
		}
	}
	newest, err := s.DB.LogCheckpoint(r.Context(), epoch)
	if err != nil {
		return err
	}
	return public(w, r, plainText, askAgain, newest.Signed, time.Time{})
}

// LogTile serves a tile of an epoch, or a bundle of its leaves. None ever
// changes.
func (s *Screens) LogTile(w http.ResponseWriter, r *http.Request) error {
	epoch, err := epochOf(r)
	if err != nil {
		return err
	}
	data, err := s.DB.LogTile(r.Context(), epoch, "tile/"+chi.URLParam(r, "*"))
	if err != nil {
		return err
	}
	return public(w, r, "application/octet-stream", forEver, data, time.Time{})
}

func epochOf(r *http.Request) (int, error) {
	n, err := strconv.Atoi(chi.URLParam(r, "epoch"))
	if err != nil || n < 1 {
		return 0, problem.New(problem.NotFound, "Epochs of the log are numbered from 1.")
	}
	return n, nil
}

// LogStatus serves the newest signed list of certificates that no longer stand.
// Whoever checks certificates keeps it; caches may hold it for a minute.
func (s *Screens) LogStatus(w http.ResponseWriter, r *http.Request) error {
	newest, err := s.DB.StatusList(r.Context())
	if err != nil {
		return err
	}
	return public(w, r, plainText, aMinute, newest.Signed, newest.IssuedAt)
}

const plainText = "text/plain; charset=utf-8"

// public answers with what is for everybody, on pages of other sites too.
func public(w http.ResponseWriter, r *http.Request, mediaType, keep string, data []byte, modified time.Time) error {
	digest := sha256.Sum256(data)
	w.Header().Set("Content-Type", mediaType)
	w.Header().Set("Cache-Control", keep)
	w.Header().Set("Cross-Origin-Resource-Policy", "cross-origin")
	w.Header().Set("ETag", `"`+hex.EncodeToString(digest[:16])+`"`)
	http.ServeContent(w, r, "", modified, bytes.NewReader(data))
	return nil
}
