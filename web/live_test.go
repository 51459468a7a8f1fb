package web_test

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/andybalholm/brotli"

	"settlemark/internal/urls"
)

// stream is a page's stream as it crosses the network, compressed.
type stream struct {
	t     testing.TB
	all   bytes.Buffer
	heard chan []byte
}

func (b *browser) stream(path string) *stream {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.base+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Accept-Encoding", "br")
	response, err := b.http.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() { _ = response.Body.Close() })
	if response.StatusCode != http.StatusOK || response.Header.Get("Content-Encoding") != "br" {
		b.t.Fatalf("%s answers %d, %v", path, response.StatusCode, response.Header)
	}
	s := &stream{t: b.t, heard: make(chan []byte, 1024)}
	go func() {
		defer close(s.heard)
		for {
			part := make([]byte, 1<<16)
			n, err := response.Body.Read(part)
			if n > 0 {
				s.heard <- part[:n]
			}
			if err != nil {
				return
			}
		}
	}()
	return s
}

// more waits until the stream has said something and then nothing for a while,
// and gives how many bytes crossed the network and what they say.
func (s *stream) more(quiet time.Duration) (crossed int, said string) {
	s.t.Helper()
	before := s.all.Len()
	told := len(s.text())
	wait := time.After(20 * time.Second)
	for {
		select {
		case part, open := <-s.heard:
			if !open {
				s.t.Fatal("the stream ended")
			}
			s.all.Write(part)
			wait = time.After(quiet)
		case <-wait:
			return s.all.Len() - before, s.text()[told:]
		}
	}
}

// text is what the browser reads of an answer that goes on.
func (s *stream) text() string {
	text, err := io.ReadAll(brotli.NewReader(bytes.NewReader(s.all.Bytes())))
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		s.t.Fatal(err)
	}
	return string(text)
}

// What one change costs a screen over poor Wi-Fi.
func TestStreamBudgets(t *testing.T) {
	const mostRun, mostTile = 3 << 10, 1 << 10
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.until(who, "Soak")
	check := func(value string) {
		b.pass(3 * time.Minute)
		b.reads(who, "ready", "true").taken()
		b.reads(who, "viscosity", value).taken()
	}
	for range 12 {
		check("4.40")
	}
	watcher := b.as("supervisor")
	run, board := watcher.stream(urls.RunEvents(b.run)), watcher.stream(urls.BoardEventsPattern)
	first, _ := run.more(time.Second)
	board.more(2 * time.Second)
	check("4.45")
	b.screens.Live.Mark(b.run)

	update, said := run.more(time.Second)
	if !strings.Contains(said, "event: chart\n") || !strings.Contains(said, "4.45") {
		t.Errorf("the stream did not tell of the reading: %.300s", said)
	}
	if update > mostRun || update == 0 {
		t.Errorf("a reading costs a screen of the run %d bytes, at most %d", update, mostRun)
	}
	change, said := board.more(2 * time.Second)
	if tiles := strings.Count(said, "event: tile-"); tiles != 1 {
		t.Errorf("one unit changed, %d tiles came: %.300s", tiles, said)
	}
	_, tile, _ := strings.Cut(said, "event: tile-")
	tile, _, _ = strings.Cut(tile, "\n\n")
	if len(tile) > mostTile {
		t.Errorf("a tile has %d bytes, at most %d", len(tile), mostTile)
	}
	t.Logf("run: %d bytes at first, %d for a reading; board: %d bytes for it, the tile %d before compression", first, update, change, len(tile))
}

// TestRowsFollow: what the marks and the answers of a watching page become is
// in the stream, for the rows that have such a place.
func TestRowsFollow(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	watcher := b.as("supervisor")
	page := watcher.get(urls.Run(b.run)).page()
	if page.Find("#tick-serial .todo").Length() != 1 || page.Find("#count-0").Length() != 1 {
		t.Error("the page has no place for the mark of a row")
	}
	s := watcher.stream(urls.RunEvents(b.run))
	s.more(time.Second)
	b.answer(who, "serial")
	b.screens.Live.Mark(b.run)
	_, said := s.more(time.Second)
	for _, want := range []string{`id="tick-serial" hx-swap-oob="innerHTML"`, `<span class="done">`, "1 of 5 lines done", "event: record\n"} {
		if !strings.Contains(said, want) {
			t.Errorf("the stream does not say %s: %.2000s", want, said)
		}
	}
}

func TestSeventhPage(t *testing.T) {
	b := newBench(t)
	who := b.as("supervisor")
	for range 6 {
		who.stream(urls.BoardEventsPattern)
	}
	if a := who.get(urls.BoardEventsPattern); a.status != http.StatusServiceUnavailable {
		t.Errorf("the seventh stream of a sign-in answers %d", a.status)
	}
	b.as("supervisor").stream(urls.BoardEventsPattern)
}
