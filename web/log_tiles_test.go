package web_test

import (
	"fmt"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
)

// auditor knows the address of a log and its policy, and shares no code with
// us: the tiles are read by golang.org/x/mod/sumdb/tlog as the client of the Go
// checksum database reads them, under the paths of C2SP tlog-tiles, and what
// they prove is checked by transparency-dev/merkle too.
type auditor struct {
	b     *browser
	tiles map[string]bool // that were fetched
}

func (a *auditor) Height() int { return 8 }

func (a *auditor) SaveTiles([]tlog.Tile, [][]byte) {}

func (a *auditor) ReadTiles(tiles []tlog.Tile) ([][]byte, error) {
	all := make([][]byte, len(tiles))
	for i, t := range tiles {
		if t.N > 999 || t.L < 0 {
			return nil, fmt.Errorf("unforeseen tile %+v", t)
		}
		path := fmt.Sprintf("/log/1/tile/%d/%03d", t.L, t.N)
		if t.W < 256 {
			path += fmt.Sprintf(".p/%d", t.W)
		}
		answer := a.b.get(path)
		if answer.status != http.StatusOK || answer.header.Get("Cache-Control") != "public, max-age=31536000, immutable" {
			return nil, fmt.Errorf("%s: %d %v", path, answer.status, answer.header)
		}
		a.tiles[path] = true
		all[i] = []byte(answer.body)
	}
	return all, nil
}

// checkpoint reads the newest checkpoint and believes the policy's key alone.
func (a *auditor) checkpoint(t *testing.T) tlog.Tree {
	t.Helper()
	_, line, _ := strings.Cut(a.b.get("/log/policy.txt").body, "log ")
	vkey, _, _ := strings.Cut(line, "\n")
	key, err := note.NewVerifier(vkey)
	if err != nil {
		t.Fatal(err)
	}
	signed, err := note.Open([]byte(a.b.get("/log/1/checkpoint").body), note.VerifierList(key))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(signed.Text, "\n")
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil {
		t.Fatal(err)
	}
	return tlog.Tree{N: size, Hash: root}
}

func bytesOf(proof []tlog.Hash) [][]byte {
	all := make([][]byte, len(proof))
	for i := range proof {
		all[i] = proof[i][:]
	}
	return all
}

// A stranger checks the log from what the server gives to everybody.
func TestLogTiles(t *testing.T) {
	s := newSite(t)
	s.acts.Log = act.Log{Key: filepath.Join(t.TempDir(), "keys", "log.key"), Host: "press.example"}
	s.must(s.acts.OpenLog(t.Context(), time.Now()))
	grow := func(leaves int) {
		dbtest.Exec(t, s.db.OwnerURL, fmt.Sprintf(
			`insert into settlemark.acts (key, at, person_id, name, act, subject, detail)
			select gen_random_uuid(), now(), 'P-0001', 'Ada Min', 'bench saved', 'Bench ' || n, '' from generate_series(1, %d) as n`, leaves))
		_, err := s.acts.Seal(t.Context(), time.Now())
		s.must(err)
	}
	a := &auditor{b: s.browser(), tiles: map[string]bool{}}
	grow(300)
	older := a.checkpoint(t)
	grow(700)
	newer := a.checkpoint(t)
	hashes := tlog.TileHashReader(newer, a)
	t.Run("every leaf is the one that its hash says, and in the log", func(t *testing.T) {
		for n := int64(0); n < newer.N; n++ {
			if n%97 > 0 && n != newer.N-1 {
				continue
			}
			leaf := a.leaf(t, n, newer.N)
			p, err := tlog.ProveRecord(newer.N, n, hashes)
			s.must(err)
			s.must(tlog.CheckRecord(p, newer.N, newer.Hash, n, tlog.RecordHash(leaf)))
			s.must(proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(n), uint64(newer.N), rfc6962.DefaultHasher.HashLeaf(leaf), bytesOf(p), newer.Hash[:]))
		}
	})
	t.Run("the newer checkpoint continues the older", func(t *testing.T) {
		p, err := tlog.ProveTree(newer.N, older.N, hashes)
		s.must(err)
		s.must(tlog.CheckTree(p, newer.N, newer.Hash, older.N, older.Hash))
		s.must(proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(older.N), uint64(newer.N), bytesOf(p), older.Hash[:], newer.Hash[:]))
		older.Hash[0] ^= 1
		if tlog.CheckTree(p, newer.N, newer.Hash, older.N, older.Hash) == nil {
			t.Error("it continues another log as well")
		}
	})
	if len(a.tiles) < 4 {
		t.Errorf("only %v were read", a.tiles)
	}
	t.Run("an older width of a tile is still there", func(t *testing.T) {
		a.b.get("/log/1/tile/0/000.p/1").wants(http.StatusOK)
	})
	t.Run("what is not under a checkpoint is not there", func(t *testing.T) {
		for _, path := range []string{
			"/log/1/tile/0/099", "/log/1/tile/0/004", "/log/1/tile/1/000", "/log/2/tile/0/000", "/log/2/checkpoint", "/log/0/tile/0/000",
			"/log/x/tile/0/000", "/log/1/tile/0/000.p/256", "/log/1/tile/0/000.p/0", "/log/1/tile/-1/000", "/log/1/tile/8/0/000",
			"/log/1/tile/data/000", "/log/1/tile/6/x999/x999/x999/x999/x999/999", "/log/1/tile/", "/log/1/tile/0/../0/000",
		} {
			if got := a.b.get(path); got.status != http.StatusNotFound || got.header.Get("Cache-Control") != "no-store" {
				t.Errorf("%s: %d, %s", path, got.status, got.header.Get("Cache-Control"))
			}
		}
	})
	t.Run("caches may keep it: no session is read", func(t *testing.T) {
		engineer := s.as("engineer")
		for _, path := range []string{"/log/policy.txt", "/log/checkpoint", "/log/1/checkpoint", "/log/1/tile/entries/000"} {
			got := engineer.get(path).wants(http.StatusOK)
			if got.header.Get("Vary") != "" || got.header.Get("Set-Cookie") != "" || !strings.HasPrefix(got.header.Get("Cache-Control"), "public") {
				t.Errorf("%s: %v", path, got.header)
			}
			if again := engineer.do(http.MethodGet, path, nil, "If-None-Match", got.header.Get("ETag")); again.status != http.StatusNotModified {
				t.Errorf("%s again: %d", path, again.status)
			}
		}
	})
}

// leaf reads a leaf out of its bundle.
func (a *auditor) leaf(t *testing.T, n, size int64) []byte {
	t.Helper()
	path := fmt.Sprintf("/log/1/tile/entries/%03d", n/256)
	if width := size - n/256*256; width < 256 {
		path += fmt.Sprintf(".p/%d", width)
	}
	data := a.b.get(path).wants(http.StatusOK).body
	for i := int64(0); ; i++ {
		length := int(data[0])<<8 | int(data[1])
		if i == n%256 {
			return []byte(data[2 : 2+length])
		}
		data = data[2+length:]
	}
}
