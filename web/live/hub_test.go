package live_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/andybalholm/brotli"
	"github.com/google/uuid"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/web/live"
)

// screen is a browser that keeps what it got.
type screen struct {
	mu        sync.Mutex
	text      strings.Builder
	header    http.Header
	deadlines atomic.Int32
	slow      time.Duration
}

func (s *screen) Header() http.Header              { return s.header }
func (s *screen) WriteHeader(int)                  {}
func (s *screen) FlushError() error                { return nil }
func (s *screen) SetWriteDeadline(time.Time) error { s.deadlines.Add(1); return nil }
func (s *screen) Write(p []byte) (int, error) {
	time.Sleep(s.slow)
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *screen) got() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// world is a run whose page is a number that the test sets.
type world struct {
	hub      *live.Hub
	number   atomic.Int64
	rendered atomic.Int64
	broken   atomic.Bool
	filler   string
	end      context.CancelFunc
	ctx      context.Context
	all      sync.WaitGroup
}

func newWorld(t *testing.T) *world {
	w := &world{}
	w.ctx, w.end = context.WithCancel(t.Context())
	pieces := func() ([]live.Piece, error) {
		w.rendered.Add(1)
		if w.broken.Load() {
			return nil, errors.New("broken")
		}
		return []live.Piece{{Name: "lead", HTML: fmt.Sprintf("<b>%d</b>\n<i>left</i>%s", w.number.Load(), w.filler)}, {Name: "stick", HTML: "<ol></ol>"}}, nil
	}
	w.hub = live.New(live.Renderers{
		Run:   func(context.Context, commissioning.RunID) ([]live.Piece, error) { return pieces() },
		Board: func(context.Context, commissioning.Person) ([]live.Piece, error) { return pieces() },
	}, time.Now, slog.New(slog.DiscardHandler))
	return w
}

// always is a screen of a sign-in of its own.
func always() live.Watcher {
	return live.Watcher{Session: uuid.NewString(), Still: func(context.Context) bool { return true }}
}

func (w *world) watch(run commissioning.RunID, lastEventID string) *screen {
	s := &screen{header: http.Header{}}
	r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(w.ctx)
	if lastEventID != "" {
		r.Header.Set("Last-Event-ID", lastEventID)
	}
	w.all.Go(func() { _ = w.hub.ServeRun(s, r, run, always()) })
	return s
}

func (w *world) over() {
	w.end()
	w.all.Wait()
}

func TestHub(t *testing.T) {
	t.Run("new_screen_gets_everything_then_only_what_changed", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			time.Sleep(time.Second)
			if got := s.got(); !strings.Contains(got, "event: lead\ndata: <b>0</b>\ndata: <i>left</i>\n") || !strings.Contains(got, "event: stick\n") {
				t.Errorf("first: %q", got)
			}
			w.number.Store(1)
			w.hub.Mark("a")
			time.Sleep(time.Second)
			got := s.got()
			if strings.Count(got, "event: lead\n") != 2 || strings.Count(got, "event: stick\n") != 1 || !strings.Contains(got, "<b>1</b>") {
				t.Errorf("then: %q", got)
			}
		})
	})
	t.Run("one_rendering_serves_every_screen", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			var screens []*screen
			for range 50 {
				screens = append(screens, w.watch("a", ""))
			}
			time.Sleep(time.Second)
			before := w.rendered.Load()
			w.number.Store(7)
			w.hub.Mark("a")
			time.Sleep(time.Second)
			if n := w.rendered.Load() - before; n != 1 {
				t.Errorf("%d renderings for one change", n)
			}
			for _, s := range screens {
				if !strings.Contains(s.got(), "<b>7</b>") {
					t.Fatal("a screen did not get the change")
				}
			}
		})
	})
	t.Run("a_change_of_another_run_renders_nothing", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			w.watch("a", "")
			time.Sleep(time.Second)
			before := w.rendered.Load()
			w.hub.Mark("b")
			time.Sleep(time.Second)
			if w.rendered.Load() != before {
				t.Error("it rendered")
			}
			w.hub.MarkAll()
			time.Sleep(time.Second)
			if w.rendered.Load() != before+1 {
				t.Error("after a lost listener nothing was rendered")
			}
		})
	})
	t.Run("a_slow_screen_gets_the_newest_state_and_skips_what_is_between", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			s.slow = 3 * time.Second
			for i := range 40 {
				w.number.Store(int64(i))
				w.hub.Mark("a")
				time.Sleep(250 * time.Millisecond)
			}
			time.Sleep(time.Minute)
			got := s.got()
			if !strings.Contains(got, "<b>39</b>") || strings.Count(got, "event: lead\n") > 12 {
				t.Errorf("%d pictures, newest there: %v", strings.Count(got, "event: lead\n"), strings.Contains(got, "<b>39</b>"))
			}
		})
	})
}

func TestBeat(t *testing.T) {
	t.Run("a_comment_and_a_beat_every_15_s", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			time.Sleep(61 * time.Second)
			if n := strings.Count(s.got(), "event: beat\n"); n < 4 || n > 6 {
				t.Errorf("%d beats in a minute", n)
			}
		})
	})
	t.Run("no_beat_while_rendering_fails_so_that_the_page_can_say_so", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			w.broken.Store(true)
			s := w.watch("a", "")
			time.Sleep(61 * time.Second)
			if strings.Contains(s.got(), "event: beat") || !strings.Contains(s.got(), ": not fresh") {
				t.Errorf("got %q", s.got())
			}
		})
	})
	t.Run("the_minutes_go_on_without_an_entry", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			time.Sleep(time.Second)
			w.number.Store(3) // a minute passed; nobody marked anything
			time.Sleep(16 * time.Second)
			if !strings.Contains(s.got(), "<b>3</b>") {
				t.Errorf("got %q", s.got())
			}
		})
	})
	t.Run("every_write_has_a_deadline", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			time.Sleep(16 * time.Second)
			if s.deadlines.Load() < 3 {
				t.Errorf("%d deadlines", s.deadlines.Load())
			}
		})
	})
}

func TestResume(t *testing.T) {
	resumed := func(t *testing.T, change bool, check func(t *testing.T, got string), id func(string) string) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			defer w.over()
			s := w.watch("a", "")
			time.Sleep(time.Second)
			if change {
				w.number.Store(5)
				w.hub.Mark("a")
				time.Sleep(time.Second)
			}
			again := w.watch("a", id(s.got()))
			time.Sleep(time.Second)
			check(t, again.got())
		})
	}
	t.Run("the_same_state_is_not_sent_again", func(t *testing.T) {
		resumed(t, false, func(t *testing.T, got string) {
			if strings.Contains(got, "event: lead") {
				t.Errorf("got %q", got)
			}
		}, lastID)
	})
	t.Run("what_changed_in_between_is_sent", func(t *testing.T) {
		resumed(t, true, func(t *testing.T, got string) {
			if !strings.Contains(got, "<b>5</b>") || strings.Contains(got, "event: stick") {
				t.Errorf("got %q", got)
			}
		}, firstID)
	})
	t.Run("an_id_of_another_process_gets_everything", func(t *testing.T) {
		resumed(t, false, func(t *testing.T, got string) {
			if !strings.Contains(got, "event: stick") {
				t.Errorf("got %q", got)
			}
		}, func(string) string { return "ffffffff-999" })
	})
}

func firstID(text string) string {
	_, rest, _ := strings.Cut(text, "id: ")
	id, _, _ := strings.Cut(rest, "\n")
	return id
}

func lastID(text string) string {
	at := strings.LastIndex(text, "id: ")
	id, _, _ := strings.Cut(text[at+4:], "\n")
	return id
}

func TestEnd(t *testing.T) {
	t.Run("shutdown_ends_every_stream", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			w.watch("a", "")
			w.watch("b", "")
			time.Sleep(time.Second)
			w.hub.Close()
			w.hub.Close()
			w.all.Wait()
		})
	})
	t.Run("a_reader_who_is_out_gets_no_more", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			s := &screen{header: http.Header{}}
			r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(w.ctx)
			w.all.Go(func() {
				_ = w.hub.ServeRun(s, r, "a", live.Watcher{Still: func(context.Context) bool { return false }})
			})
			time.Sleep(16 * time.Second)
			w.all.Wait()
			w.end()
		})
	})
	t.Run("the_301st_stream_is_told_to_come_back", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			w := newWorld(t)
			for range 300 {
				w.watch("a", "")
			}
			synctest.Wait()
			err := w.hub.ServeRun(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/", nil), "a", always())
			if problem.KindOf(err) != problem.Busy {
				t.Errorf("got %v", err)
			}
			w.over()
		})
	})
}

func TestLastChange(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWorld(t)
		defer w.over()
		s := w.watch("a", "")
		time.Sleep(16 * time.Second)
		if beats := beats(s.got()); strings.Contains(beats[len(beats)-1], " ") {
			t.Errorf("nothing has changed, and it says %q", beats)
		}
		w.number.Store(1)
		w.hub.Mark("a")
		time.Sleep(time.Second)
		changed := time.Now().Add(-time.Second)
		time.Sleep(40 * time.Second)
		beats := beats(s.got())
		if got, want := beats[len(beats)-1], changed.UTC().Format(time.RFC3339); !strings.HasSuffix(got, " "+want) {
			t.Errorf("it changed at %s, and the beat says %q", want, got)
		}
	})
}

func beats(text string) (all []string) {
	for _, part := range strings.Split(text, "event: beat\ndata: ")[1:] {
		line, _, _ := strings.Cut(part, "\n")
		all = append(all, line)
	}
	return all
}

func TestSessionLimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWorld(t)
		defer w.over()
		one := always()
		serve := func(ctx context.Context, by live.Watcher) error {
			r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(ctx)
			return w.hub.ServeRun(&screen{header: http.Header{}}, r, "a", by)
		}
		closing, closes := context.WithCancel(w.ctx)
		for i := range 6 {
			ctx := w.ctx
			if i == 0 {
				ctx = closing
			}
			w.all.Go(func() { _ = serve(ctx, one) })
		}
		synctest.Wait()
		if err := serve(w.ctx, one); problem.KindOf(err) != problem.Busy {
			t.Errorf("the seventh: %v", err)
		}
		w.all.Go(func() {
			if err := serve(w.ctx, always()); err != nil {
				t.Errorf("another session: %v", err)
			}
		})
		closes()
		synctest.Wait()
		w.all.Go(func() {
			if err := serve(w.ctx, one); err != nil {
				t.Errorf("after one was closed: %v", err)
			}
		})
		synctest.Wait()
	})
}

// A page of some size of which a figure changes costs little for the rest.
func TestCompressed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWorld(t)
		w.filler = rowsOf(3000)
		s := &screen{header: http.Header{}}
		r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(w.ctx)
		r.Header.Set("Accept-Encoding", "gzip, deflate, br")
		w.all.Go(func() { _ = w.hub.ServeRun(s, r, "a", always()) })
		time.Sleep(time.Second)
		first := len(s.got())
		w.number.Store(1)
		w.hub.Mark("a")
		time.Sleep(time.Second)
		if more := len(s.got()) - first; more > 1000 || first < 3*more {
			t.Errorf("%d bytes, then %d for one figure", first, more)
		}
		w.over()
		if s.header.Get("Content-Encoding") != "br" {
			t.Errorf("header %v", s.header)
		}
		text, err := io.ReadAll(brotli.NewReader(strings.NewReader(s.got())))
		if err != nil || !strings.Contains(string(text), "<b>1</b>") {
			t.Errorf("it reads as %.200q, %v", text, err)
		}
	})
}

// rowsOf makes rows that differ from each other.
func rowsOf(n int) string {
	var rows strings.Builder
	for i := range n {
		fmt.Fprintf(&rows, "<i>%x</i>", i*i*2654435761)
	}
	return rows.String()
}

func TestBoardTopics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWorld(t)
		defer w.over()
		at := func(role commissioning.Role, site commissioning.SiteID) commissioning.Person {
			return commissioning.Person{Grants: []commissioning.Grant{{Role: role, Site: site}}}
		}
		for _, p := range []commissioning.Person{at(commissioning.Supervisor, 1), at(commissioning.Engineer, 1), at(commissioning.Supervisor, 2), at(commissioning.Quality, 0)} {
			s := &screen{header: http.Header{}}
			r := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(w.ctx)
			w.all.Go(func() { _ = w.hub.ServeBoard(s, r, p, always()) })
		}
		time.Sleep(2 * time.Second)
		if n := w.rendered.Load(); n != 3 {
			t.Errorf("%d renderings for three sets of sites", n)
		}
	})
}

// Whoever reads alike shares a rendering; another language, or other local units,
// is one more.
func TestEveryReaderGetsTheirLanguage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, end := context.WithCancel(t.Context())
		var rendered atomic.Int64
		hub := live.New(live.Renderers{Run: func(ctx context.Context, _ commissioning.RunID) ([]live.Piece, error) {
			rendered.Add(1)
			return []live.Piece{{Name: "lead", HTML: words.Say("Sign out").For(words.ReaderOf(ctx))}}, nil
		}}, time.Now, slog.New(slog.DiscardHandler))
		var all sync.WaitGroup
		watch := func(r words.Reader) *screen {
			s := &screen{header: http.Header{}}
			request := httptest.NewRequest(http.MethodGet, "/", nil).WithContext(words.For(ctx, r))
			all.Go(func() { _ = hub.ServeRun(s, request, "a", always()) })
			return s
		}
		english, german := words.Reader{Language: words.English}, words.Reader{Language: words.German}
		screens := map[string][]*screen{"Sign out": {watch(english), watch(english)}, "Abmelden": {watch(german), watch(german)}}
		screens["Sign out"] = append(screens["Sign out"], watch(words.Reader{Language: words.English, Units: "us"}))
		time.Sleep(time.Second)
		for want, of := range screens {
			for _, s := range of {
				if !strings.Contains(s.got(), "data: "+want+"\n") {
					t.Errorf("a screen that reads %q got %q", want, s.got())
				}
			}
		}
		before := rendered.Load()
		hub.Mark("a")
		time.Sleep(time.Second)
		if n := rendered.Load() - before; n != 3 {
			t.Errorf("%d renderings of a change for three ways of reading", n)
		}
		end()
		all.Wait()
	})
}
