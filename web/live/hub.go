// Package live sends what changed to every screen that watches: one stream of
// server-sent events per screen, one rendering per process, change and way of
// reading.
//
// A watched thing (a run, the board of somebody's sites, or of a hall) keeps only its
// newest pieces, so a slow screen gets fewer and newer pictures and is never
// cut off. Pieces go to every screen of a site: nothing in them may depend on
// who looks, but for how they read. The package is handed its render functions and knows no database.
package live

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

const (
	mostStreams    = 300
	mostPerSession = 6
	beatEvery      = 15 * time.Second
	renderLimit    = 5 * time.Second
)

// Piece is one fragment of a page; Name is the id of the element it fills.
type Piece struct{ Name, HTML string }

// Watcher is the screen of one stream.
type Watcher struct {
	Session string                     // whose streams are counted together
	Still   func(context.Context) bool // asked at every beat and at every Ask; the stream ends with the first no
}

// Renderers make the pieces of a page as they are now.
type Renderers struct {
	Run   func(ctx context.Context, run commissioning.RunID) ([]Piece, error)
	Board func(ctx context.Context, reader commissioning.Person) ([]Piece, error)
	Hall  func(ctx context.Context, site commissioning.SiteID) ([]Piece, error)
}

// Hub holds everything that is being watched.
type Hub struct {
	render Renderers
	now    func() time.Time
	log    *slog.Logger
	epoch  string // event ids of another process mean nothing here
	done   chan struct{}
	close  func()

	versions atomic.Uint64 // one count for all, so that a topic may end and start again

	mu       sync.Mutex
	streams  int
	sessions map[string]int    // streams of each
	topics   map[string]*topic // "run …", "board …", "hall …"
	asked    chan struct{}     // closed when every stream is to ask whether it may go on, then replaced
}

// New makes a hub.
func New(render Renderers, now func() time.Time, log *slog.Logger) *Hub {
	var epoch [4]byte
	_, _ = rand.Read(epoch[:]) // never fails since Go 1.24
	h := &Hub{
		render: render, now: now, log: log, epoch: hex.EncodeToString(epoch[:]),
		done: make(chan struct{}), sessions: map[string]int{}, topics: map[string]*topic{}, asked: make(chan struct{}),
	}
	h.close = sync.OnceFunc(func() { close(h.done) })
	return h
}

// Close ends every stream; the server calls it when it shuts down.
func (h *Hub) Close() { h.close() }

// Ask has every stream ask at once whether its screen may still watch.
func (h *Hub) Ask() {
	h.mu.Lock()
	defer h.mu.Unlock()
	close(h.asked)
	h.asked = make(chan struct{})
}

// Streams counts those that are open.
func (h *Hub) Streams() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.streams
}

func (h *Hub) nextAsked() <-chan struct{} {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.asked
}

// Mark says that the run changed: its screens and every board look again.
func (h *Hub) Mark(run commissioning.RunID) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for key, t := range h.topics {
		if strings.HasPrefix(key, runKey(run)) || t.board {
			t.mark()
		}
	}
}

// MarkAll says that anything may have changed.
func (h *Hub) MarkAll() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, t := range h.topics {
		t.mark()
	}
}

// ServeRun streams the pieces of a run. The caller has checked that the person
// may read it. Too many streams are Busy.
func (h *Hub) ServeRun(w http.ResponseWriter, r *http.Request, run commissioning.RunID, by Watcher) error {
	reader := words.ReaderOf(r.Context())
	return h.serve(w, r, by, runKey(run)+reader.Key(), false, func(ctx context.Context) ([]Piece, error) {
		return h.render.Run(words.For(ctx, reader), run)
	})
}

// ServeBoard streams the board of the sites that the reader reads.
func (h *Hub) ServeBoard(w http.ResponseWriter, r *http.Request, reader commissioning.Person, by Watcher) error {
	how := words.ReaderOf(r.Context())
	return h.serve(w, r, by, boardKey(reader)+how.Key(), true, func(ctx context.Context) ([]Piece, error) {
		return h.render.Board(words.For(ctx, how), reader)
	})
}

// ServeHall streams the board of a site to a screen in its hall.
func (h *Hub) ServeHall(w http.ResponseWriter, r *http.Request, site commissioning.SiteID, by Watcher) error {
	how := words.ReaderOf(r.Context())
	return h.serve(w, r, by, fmt.Sprint("hall ", site, " ", how.Key()), true, func(ctx context.Context) ([]Piece, error) {
		return h.render.Hall(words.For(ctx, how), site)
	})
}

// A key ends with how its pieces are read.
func runKey(run commissioning.RunID) string { return "run " + string(run) + " " }

// boardKey is the same for everybody who reads the same sites.
func boardKey(p commissioning.Person) string {
	if p.Holds(commissioning.Quality) {
		return "board all "
	}
	var sites []commissioning.SiteID
	for _, g := range p.Grants {
		if g.Role == commissioning.Engineer || g.Role == commissioning.Supervisor {
			sites = append(sites, g.Site)
		}
	}
	slices.Sort(sites)
	return fmt.Sprint("board ", slices.Compact(sites), " ")
}

// enter finds or starts the topic and counts the stream.
func (h *Hub) enter(session, key string, board bool, render func(context.Context) ([]Piece, error)) (*topic, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.streams >= mostStreams {
		return nil, problem.New(problem.Busy, "Too many screens are watching. Close one, or reload this page to see the newest state.")
	}
	if h.sessions[session] >= mostPerSession {
		return nil, problem.New(problem.Busy, "Six pages of this sign-in are live already. Close one, or reload this page to see the newest state.")
	}
	h.streams++
	h.sessions[session]++
	t, ok := h.topics[key]
	if !ok {
		t = newTopic(board, &h.versions, h.now, render)
		h.topics[key] = t
		go t.run(h.log)
	}
	t.watchers++
	return t, nil
}

// leave ends the topic with its last stream.
func (h *Hub) leave(session, key string, t *topic) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.streams--
	if h.sessions[session]--; h.sessions[session] == 0 {
		delete(h.sessions, session)
	}
	if t.watchers--; t.watchers == 0 {
		delete(h.topics, key)
		t.stop()
	}
}
