package live

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

const writeLimit = 10 * time.Second

// serve writes the stream: everything newer than what the screen has, then
// every change, with a beat every 15 s. The beat carries the time and is left
// out while rendering fails, so that a page can say that it is not live.
func (h *Hub) serve(w http.ResponseWriter, r *http.Request, still func(context.Context) bool,
	key string, board bool, render func(context.Context) ([]Piece, error),
) error {
	t, err := h.enter(key, board, render)
	if err != nil {
		return err
	}
	defer h.leave(key, t)
	header := w.Header()
	header.Set("Content-Type", "text/event-stream; charset=utf-8")
	header.Set("Cache-Control", "no-store")
	header.Set("X-Accel-Buffering", "no") // a proxy in between may not hold it back
	s := stream{w: w, control: http.NewResponseController(w), now: h.now, epoch: h.epoch}
	if !s.write("retry: 2000\n\n") {
		return nil
	}
	seen := h.version(r.Header.Get("Last-Event-ID"))
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	for {
		newer, version, next, fresh := t.since(seen)
		if len(newer) > 0 && (!s.pieces(newer, version) || !s.beat(fresh)) {
			return nil
		}
		seen = version
		select {
		case <-next:
		case <-beat.C:
			if !still(r.Context()) || !s.beat(fresh) {
				return nil
			}
		case <-r.Context().Done():
			return nil
		case <-h.done:
			return nil
		}
	}
}

// version reads an event id of ours; 0, everything, for any other.
func (h *Hub) version(id string) uint64 {
	number, ours := strings.CutPrefix(id, h.epoch+"-")
	if !ours {
		return 0
	}
	v, err := strconv.ParseUint(number, 10, 64)
	if err != nil {
		return 0
	}
	return v
}

type stream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	now     func() time.Time
	epoch   string
}

func (s stream) pieces(pieces []Piece, version uint64) bool {
	var out strings.Builder
	for i, p := range pieces {
		if i == len(pieces)-1 { // the id counts only when all pieces came
			fmt.Fprintf(&out, "id: %s-%d\n", s.epoch, version)
		}
		fmt.Fprintf(&out, "event: %s\n", p.Name)
		for line := range strings.Lines(p.HTML) {
			fmt.Fprintf(&out, "data: %s\n", strings.TrimRight(line, "\r\n"))
		}
		out.WriteString("\n")
	}
	return s.write(out.String())
}

func (s stream) beat(fresh bool) bool {
	if !fresh {
		return s.write(": not fresh\n\n")
	}
	return s.write(fmt.Sprintf(": beat\nevent: beat\ndata: %s\n\n", s.now().UTC().Format(time.RFC3339)))
}

func (s stream) write(text string) bool {
	if s.control.SetWriteDeadline(s.now().Add(writeLimit)) != nil {
		return false
	}
	if _, err := io.WriteString(s.w, text); err != nil {
		return false
	}
	return s.control.Flush() == nil
}
