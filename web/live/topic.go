package live

import (
	"context"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"
)

// topic is one watched thing with its newest pieces.
type topic struct {
	board    bool
	watchers int // guarded by the hub
	render   func(context.Context) ([]Piece, error)
	dirty    chan struct{} // one slot: changes join
	ctx      context.Context
	stop     context.CancelFunc
	versions *atomic.Uint64
	now      func() time.Time

	mu        sync.Mutex
	version   uint64
	fresh     bool      // the last rendering worked
	changedAt time.Time // when a rendering last differed from the one before, zero until one does
	order     []string
	pieces    map[string]versioned
	changed   chan struct{} // closed at every new version, then replaced
}

// state is a topic for one screen, as it is now.
type state struct {
	newer     []Piece // than what the screen has
	version   uint64
	next      <-chan struct{} // closes at the next version
	fresh     bool
	changedAt time.Time
}

type versioned struct {
	html    string
	version uint64
}

func newTopic(board bool, versions *atomic.Uint64, now func() time.Time, render func(context.Context) ([]Piece, error)) *topic {
	ctx, stop := context.WithCancel(context.Background())
	t := &topic{
		board: board, versions: versions, now: now, render: render, dirty: make(chan struct{}, 1), ctx: ctx, stop: stop,
		pieces: map[string]versioned{}, changed: make(chan struct{}),
	}
	t.mark()
	return t
}

func (t *topic) mark() {
	select {
	case t.dirty <- struct{}{}:
	default: // somebody said so already
	}
}

// run renders after every change and at every beat, since minutes pass without
// an entry; at most one rendering per pause.
func (t *topic) run(log *slog.Logger) {
	pause := 200 * time.Millisecond
	if t.board {
		pause = time.Second
	}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	for {
		select {
		case <-t.ctx.Done():
			return
		case <-t.dirty:
		case <-beat.C:
		}
		ctx, cancel := context.WithTimeout(t.ctx, renderLimit)
		pieces, err := t.render(ctx)
		cancel()
		if err != nil && t.ctx.Err() == nil {
			log.Error("live rendering", "error", err.Error())
		}
		t.put(pieces, err == nil)
		select {
		case <-t.ctx.Done():
			return
		case <-time.After(pause):
		}
	}
}

// put keeps the pieces that differ from what was sent before.
func (t *topic) put(pieces []Piece, fresh bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.fresh = fresh
	next, first := t.versions.Add(1), t.version == 0
	for _, p := range pieces {
		old, known := t.pieces[p.Name]
		if known && old.html == p.HTML {
			continue
		}
		if !known {
			t.order = append(t.order, p.Name)
		}
		t.pieces[p.Name] = versioned{p.HTML, next}
		t.version = next
	}
	if t.version == next {
		if !first {
			t.changedAt = t.now()
		}
		close(t.changed)
		t.changed = make(chan struct{})
	}
}

// since gives the state for a screen that has a version.
func (t *topic) since(version uint64) state {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := state{version: t.version, next: t.changed, fresh: t.fresh, changedAt: t.changedAt}
	for _, name := range t.order {
		if p := t.pieces[name]; p.version > version {
			s.newer = append(s.newer, Piece{name, p.html})
		}
	}
	return s
}
