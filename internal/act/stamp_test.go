package act_test

import (
	"bytes"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/digitorus/timestamp"

	"settlemark/internal/ledger"
	"settlemark/internal/stamp/stamptest"
)

// stamped is a world with something sealed and a time stamp authority. The
// authority's clock is the real one, so the world's is too.
func stamped(t *testing.T, a *stamptest.Authority) (*world, time.Time) {
	w := newWorld(t)
	w.openLog()
	w.Log.Authority, w.Log.Export = a.Serve(t), t.TempDir()
	now := time.Now()
	w.open("U-1")
	w.seal(now)
	return w, now
}

func TestStamp(t *testing.T) {
	t.Run("one a day over the newest checkpoint, kept and exported", func(t *testing.T) {
		a := &stamptest.Authority{}
		w, now := stamped(t, a)
		for n := range 3 {
			did, err := w.Stamp(t.Context(), now)
			must(t, err)
			if did != (n == 0) {
				t.Errorf("time %d: stamped %v", n, did)
			}
		}
		if asked := a.Asked.Load(); asked != 1 {
			t.Errorf("the authority was asked %d times", asked)
		}
		kept, err := w.db.NewestStamp(t.Context())
		must(t, err)
		if _, err := ledger.OpenCheckpoint(kept.Signed, w.policy()); err != nil {
			t.Error(err)
		}
		token, err := timestamp.Parse(kept.Token)
		must(t, err)
		if kept.Authority != "CN=Clock of the test" || !token.Time.Equal(kept.StampedAt) {
			t.Errorf("by %s at %s", kept.Authority, kept.StampedAt)
		}
		for pattern, want := range map[string][]byte{"*.checkpoint": kept.Signed, "*.token": kept.Token} {
			found, err := filepath.Glob(filepath.Join(w.Log.Export, "stamps", pattern))
			must(t, err)
			if len(found) != 1 {
				t.Fatalf("%s: %v", pattern, found)
			}
			if got, err := os.ReadFile(found[0]); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s differs from what is kept: %v", pattern, err)
			}
		}
	})
	t.Run("the export is made up for when it failed", func(t *testing.T) {
		w, now := stamped(t, &stamptest.Authority{})
		folder := w.Log.Export
		w.Log.Export = filepath.Join(folder, "file")
		must(t, os.WriteFile(w.Log.Export, nil, 0o600))
		if _, err := w.Stamp(t.Context(), now); err == nil {
			t.Error("exported into a file")
		}
		w.Log.Export = folder
		_, err := w.Stamp(t.Context(), now)
		must(t, err)
		if found, err := filepath.Glob(filepath.Join(folder, "stamps", "*.token")); err != nil || len(found) != 1 {
			t.Errorf("%v, %v", found, err)
		}
	})
	t.Run("nothing is asked while nothing new is sealed", func(t *testing.T) {
		a := &stamptest.Authority{}
		w, now := stamped(t, a)
		_, err := w.Stamp(t.Context(), now)
		must(t, err)
		if did, err := w.Stamp(t.Context(), now.Add(24*time.Hour)); did || err != nil || a.Asked.Load() != 1 {
			t.Errorf("stamped %v, %v, asked %d times", did, err, a.Asked.Load())
		}
	})
	t.Run("a bad answer is not kept, and asked for again", func(t *testing.T) {
		a := &stamptest.Authority{Spoil: func(s *timestamp.Timestamp) { s.Nonce = big.NewInt(1) }}
		w, now := stamped(t, a)
		if _, err := w.Stamp(t.Context(), now); err == nil {
			t.Error("taken")
		}
		if kept, err := w.db.NewestStamp(t.Context()); err != nil || kept.Epoch != 0 {
			t.Errorf("kept %+v, %v", kept, err)
		}
		a.Spoil = nil
		if did, err := w.Stamp(t.Context(), now); !did || err != nil {
			t.Errorf("stamped %v, %v", did, err)
		}
	})
	t.Run("a site without an authority stamps nothing", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		if did, err := w.Stamp(t.Context(), evening); did || err != nil {
			t.Errorf("stamped %v, %v", did, err)
		}
	})
}
