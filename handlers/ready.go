package handlers

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"settlemark/db"
	"settlemark/internal/durable"
)

// Ready says whether this process should be given work, and if not, all that stands
// in the way: for load balancers and for who watches the installation.
func (s *Screens) Ready(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	reasons, text := s.unready(r.Context()), "ready\n"
	if len(reasons) > 0 {
		w.Header().Set("Retry-After", "5")
		w.WriteHeader(http.StatusServiceUnavailable)
		text = strings.Join(reasons, "\n") + "\n"
	}
	_, err := w.Write([]byte(text))
	return err
}

// unready says in sentences why not, in English as everything for operators.
func (s *Screens) unready(ctx context.Context) (reasons []string) {
	say := func(format string, args ...any) { reasons = append(reasons, fmt.Sprintf(format, args...)) }
	if full, err := durable.Full(s.Data); s.Data != "" && (err != nil || full) {
		say("The disk of %s is full, or can't be read.", s.Data)
	}
	at, err := s.DB.SchemaVersion(ctx)
	if err != nil {
		say("The database does not answer.")
		return reasons
	}
	if want := db.NewestMigration(); at < want {
		say("The database is at migration %d, and this program needs %d.", at, want)
	}
	trouble, err := s.Acts.LogTrouble(ctx, s.Now())
	switch {
	case err != nil:
		say("The database does not answer.")
	case !trouble.Empty():
		reasons = append(reasons, trouble.String())
	}
	return reasons
}
