package act_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/internal/ledger"
)

// audit checks an exported epoch as a stranger would, who has the folder and
// nothing else.
func audit(t *testing.T, dir, epoch string) (size int64, checkpoints int) {
	t.Helper()
	read := func(path string) []byte {
		data, err := os.ReadFile(filepath.Join(dir, path))
		must(t, err)
		return data
	}
	policy, err := ledger.ReadPolicy(read("policy.txt"))
	must(t, err)
	newest, err := ledger.OpenCheckpoint(read(epoch+"/checkpoint"), policy)
	must(t, err)
	tree := ledger.NewTree(0, func([]int64) ([]tlog.Hash, error) { return nil, nil })
	for n := int64(0); n*256 < newest.Size; n++ {
		path := fmt.Sprintf("%s/tile/entries/%03d", epoch, n)
		if width := newest.Size - n*256; width < 256 {
			path += fmt.Sprintf(".p/%d", width)
		}
		leaves, err := ledger.ReadBundle(read(path))
		must(t, err)
		for _, leaf := range leaves {
			must(t, tree.Append(leaf))
		}
	}
	must(t, tree.Extends(newest))
	// The tiles as C2SP tlog-tiles has them: the hashes of level 0 are those of
	// the leaves, those of level 1 of whole tiles.
	level0 := read(epoch + "/tile/0/000")
	for i := range int64(256) {
		hashes, err := tree.ReadHashes([]int64{tlog.StoredHashIndex(0, i)})
		must(t, err)
		if string(level0[i*32:(i+1)*32]) != string(hashes[0][:]) {
			t.Fatalf("hash %d of the first tile is not that of its leaf", i)
		}
	}
	root, err := tree.RootAt(256)
	must(t, err)
	if level1 := read(fmt.Sprintf("%s/tile/1/000.p/%d", epoch, newest.Size/256)); string(level1[:32]) != string(root[:]) {
		t.Error("level 1 does not begin with the hash of the first tile")
	}
	all, err := os.ReadDir(filepath.Join(dir, epoch, "checkpoints"))
	must(t, err)
	for _, file := range all {
		c, err := ledger.OpenCheckpoint(read(epoch+"/checkpoints/"+file.Name()), policy)
		must(t, err)
		must(t, tree.Extends(c))
	}
	return newest.Size, len(all)
}

func TestExportLog(t *testing.T) {
	ctx := t.Context()
	w := newWorld(t)
	w.openLog()
	w.released("U-1")
	w.seal(evening)
	w.unitOrFail("U-2")
	r := w.open("U-2")
	for i := range 250 {
		w.record(r.ID, remark(fmt.Sprint(i), 2))
	}
	w.seal(evening)
	dir := t.TempDir()
	done, err := w.ExportLog(ctx, dir)
	must(t, err)
	t.Run("is checked by who has the folder alone", func(t *testing.T) {
		size, checkpoints := audit(t, dir, "1")
		if int(size) != done.Leaves || checkpoints != done.Checkpoints || size < 257 || checkpoints != 2 {
			t.Errorf("%d leaves and %d checkpoints, it says %+v", size, checkpoints, done)
		}
	})
	t.Run("again, it grows", func(t *testing.T) {
		w.record(r.ID, remark("more", 3))
		w.seal(evening)
		again, err := w.ExportLog(ctx, dir)
		must(t, err)
		if size, _ := audit(t, dir, "1"); int(size) != again.Leaves || again.Leaves <= done.Leaves {
			t.Errorf("%d leaves, it says %+v", size, again)
		}
	})
	t.Run("the newest checkpoint goes to the export folder, and one an hour stays", func(t *testing.T) {
		w.Log.Export = filepath.Join(t.TempDir(), "export")
		must(t, w.ExportCheckpoint(ctx, evening))
		w.record(r.ID, remark("still more", 3))
		w.seal(evening)
		must(t, w.ExportCheckpoint(ctx, evening.Add(time.Minute)))
		must(t, w.ExportCheckpoint(ctx, evening.Add(time.Hour)))
		text := func(name string) string {
			data, err := os.ReadFile(filepath.Join(w.Log.Export, name))
			must(t, err)
			return string(data)
		}
		if text("checkpoint") != text("checkpoint-2026-03-04T11") || text("checkpoint") == text("checkpoint-2026-03-04T10") {
			t.Error("the copies are not of their hours")
		}
		if !strings.HasPrefix(text("checkpoint"), "press.example/") {
			t.Errorf("%q", text("checkpoint"))
		}
	})
}
