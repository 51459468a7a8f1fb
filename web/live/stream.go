package live

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/andybalholm/brotli"
)

const writeLimit = 10 * time.Second

// window holds a few renderings of a run's page, so that one that differs in a
// reading is told as the difference.
var window = brotli.WriterOptions{Quality: 4, LGWin: 17}

// serve writes the stream: everything newer than what the screen has, then
// every change, with a beat every 15 s. The beat carries the time and is left
// out while rendering fails, so that a page can say that it is not live.
func (h *Hub) serve(w http.ResponseWriter, r *http.Request, by Watcher, key string, board bool,
	render func(context.Context) ([]Piece, error),
) error {
	t, err := h.enter(by.Session, key, board, render)
	if err != nil {
		return err
	}
	defer h.leave(by.Session, key, t)
	s := h.open(w, r)
	defer s.close()
	if !s.write("retry: 2000\n\n") {
		return nil
	}
	seen := h.version(r.Header.Get("Last-Event-ID"))
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	asked := h.nextAsked()
	for {
		now := t.since(seen)
		if len(now.newer) > 0 && (!s.pieces(now.newer, now.version) || !s.beat(now)) {
			return nil
		}
		seen = now.version
		select {
		case <-now.next:
		case <-beat.C:
			if s.over(r.Context(), by) || !s.beat(t.since(seen)) {
				return nil
			}
		case <-asked:
			asked = h.nextAsked()
			if s.over(r.Context(), by) {
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

// stream is the answer to one screen, compressed where the screen reads that.
type stream struct {
	out     io.Writer
	squeeze *brotli.Writer // nil, or what out is
	control *http.ResponseController
	now     func() time.Time
	epoch   string
}

func (h *Hub) open(w http.ResponseWriter, r *http.Request) stream {
	header := w.Header()
	header.Set("Content-Type", "text/event-stream; charset=utf-8")
	header.Set("Cache-Control", "no-store")
	header.Set("Content-Security-Policy", "default-src 'none'") // no page; the long one of pages weighs as much as a change
	header.Set("X-Accel-Buffering", "no")                       // a proxy in between may not hold it back
	header.Add("Vary", "Accept-Encoding")
	s := stream{out: w, control: http.NewResponseController(w), now: h.now, epoch: h.epoch}
	for coding := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		if strings.TrimSpace(coding) == "br" {
			header.Set("Content-Encoding", "br")
			s.squeeze = brotli.NewWriterOptions(w, window)
			s.out = s.squeeze
		}
	}
	return s
}

func (s stream) close() {
	if s.squeeze != nil && s.control.SetWriteDeadline(s.now().Add(writeLimit)) == nil {
		_ = s.squeeze.Close() // whoever left does not mind
	}
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

// over says whether the screen may watch no more, and tells it so.
func (s stream) over(ctx context.Context, by Watcher) bool {
	if by.Still(ctx) {
		return false
	}
	s.write("event: over\ndata:\n\n")
	return true
}

// beat tells the time, and since when what it shows has been so.
func (s stream) beat(now state) bool {
	if !now.fresh {
		return s.write(": not fresh\n\n")
	}
	at := s.now().UTC().Format("2006-01-02T15:04:05.000Z07:00")
	if !now.changedAt.IsZero() {
		at += " " + now.changedAt.UTC().Format(time.RFC3339)
	}
	return s.write(": beat\nevent: beat\ndata: " + at + "\n\n")
}

func (s stream) write(text string) bool {
	if s.control.SetWriteDeadline(s.now().Add(writeLimit)) != nil {
		return false
	}
	if _, err := io.WriteString(s.out, text); err != nil {
		return false
	}
	if s.squeeze != nil && s.squeeze.Flush() != nil {
		return false
	}
	return s.control.Flush() == nil
}
