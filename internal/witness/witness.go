// Package witness lets a second site watch a log: it cosigns a checkpoint when
// it continues the one that it cosigned last, and never goes back (C2SP
// tlog-witness). Client and server of that protocol, nothing else; it knows
// neither the record nor SQL.
package witness

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"settlemark/internal/durable"
	"settlemark/internal/ledger"
)

// maxSubmission bounds what a stranger may send.
const maxSubmission = 64 << 10

// Witness answers add-checkpoint for the logs of its policy. It keeps the
// newest checkpoint of each in Dir.
type Witness struct {
	Policy ledger.Policy
	Key    ledger.Cosigner
	Dir    string
	Now    func() time.Time
	Log    *slog.Logger

	mu sync.Mutex // from looking at what was seen to keeping what is seen now
}

// Handler serves the protocol.
func (w *Witness) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("POST /add-checkpoint", w.addCheckpoint)
	return mux
}

func (w *Witness) addCheckpoint(out http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(out, r.Body, maxSubmission))
	if err != nil {
		http.Error(out, "the request is too long or broke off", http.StatusBadRequest)
		return
	}
	s, err := ledger.ReadSubmission(body)
	if err != nil {
		http.Error(out, err.Error(), http.StatusBadRequest)
		return
	}
	line, err := w.cosign(s)
	var refused *refusal
	switch {
	case errors.As(err, &refused):
		w.Log.Warn("a checkpoint was refused", "log", ledger.Origin(s.Checkpoint), "status", refused.status, "why", refused.text)
		if refused.status == http.StatusConflict {
			out.Header().Set("Content-Type", "text/x.tlog.size")
		}
		out.WriteHeader(refused.status)
		_, _ = io.WriteString(out, refused.text+"\n")
	case err != nil:
		w.Log.Error("a checkpoint could not be kept", "cause", err)
		http.Error(out, "the witness can't keep the checkpoint", http.StatusInternalServerError)
	default:
		_, _ = io.WriteString(out, line)
	}
}

// refusal is an answer that the protocol foresees.
type refusal struct {
	status int
	text   string
}

func (r *refusal) Error() string { return r.text }

func refuse(status int, format string, args ...any) error {
	return &refusal{status, fmt.Sprintf(format, args...)}
}

// cosign checks and keeps the checkpoint before it gives the signature: what
// was cosigned is never forgotten.
func (w *Witness) cosign(s ledger.Submission) (string, error) {
	origin := ledger.Origin(s.Checkpoint)
	if !w.Policy.Believes(origin) {
		return "", refuse(http.StatusNotFound, "the log is unknown here")
	}
	c, err := ledger.OpenSigned(s.Checkpoint, w.Policy)
	if err != nil {
		return "", refuse(http.StatusForbidden, "%v", err)
	}
	if s.Old > c.Size {
		return "", refuse(http.StatusBadRequest, "the old size is above the checkpoint's")
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	last, err := w.last(origin)
	if err != nil {
		return "", err
	}
	if last.Size != s.Old || last.Size == c.Size && last.Root != c.Root && c.Size > 0 {
		return "", refuse(http.StatusConflict, "%d", last.Size)
	}
	if err := s.Continues(last, c); err != nil {
		return "", refuse(http.StatusUnprocessableEntity, "%v", err)
	}
	if err := durable.Write(w.file(origin), s.Checkpoint); err != nil {
		return "", err
	}
	return w.Key.Cosign(s.Checkpoint, w.Now()), nil
}

// last is the checkpoint that was cosigned last, of size 0 when none was.
func (w *Witness) last(origin string) (ledger.Checkpoint, error) {
	text, err := os.ReadFile(w.file(origin))
	if errors.Is(err, fs.ErrNotExist) {
		return ledger.Checkpoint{Origin: origin}, nil
	}
	if err != nil {
		return ledger.Checkpoint{}, err
	}
	return ledger.OpenSigned(text, w.Policy)
}

// file is named by a digest: an origin may hold any character.
func (w *Witness) file(origin string) string {
	sum := sha256.Sum256([]byte(origin))
	return filepath.Join(w.Dir, hex.EncodeToString(sum[:8])+".checkpoint")
}
