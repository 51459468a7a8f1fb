package ledger

import (
	"encoding/binary"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// TileHeight: a tile holds up to 256 hashes, as C2SP tlog-tiles has it.
const TileHeight = 8

// bundles is the level of tiles that hold leaves and not hashes.
const bundles = -1

// IsBundle says whether the tile holds leaves.
func IsBundle(t tlog.Tile) bool { return t.L == bundles }

// TileNeeds is how many leaves a log must have to have the tile.
func TileNeeds(t tlog.Tile) int64 {
	return (t.N<<TileHeight + int64(t.W)) << (TileHeight * max(t.L, 0))
}

// tlog writes the height into the path and calls the leaves data.
var (
	fromTlog = strings.NewReplacer("tile/8/data/", "tile/entries/", "tile/8/", "tile/")
	toTlog   = strings.NewReplacer("tile/entries/", "tile/8/data/", "tile/", "tile/8/")
)

// TilePath is where a tile lies below its log's folder: tile 1234067 of level 2
// is tile/2/x001/x234/067. One that is not full ends in its width.
func TilePath(t tlog.Tile) string { return fromTlog.Replace(t.Path()) }

// ReadTilePath is the inverse of TilePath.
func ReadTilePath(path string) (tlog.Tile, error) {
	t, err := tlog.ParseTilePath(toTlog.Replace(path))
	if err != nil || TilePath(t) != path || t.L > 6 || t.N >= 1<<(54-TileHeight*max(t.L, 0)) { // beyond, TileNeeds overflows
		return tlog.Tile{}, fmt.Errorf("%q is no path of a tile", path)
	}
	return t, nil
}

// Bundle writes leaves one after the other, each behind its length in two bytes.
func Bundle(leaves [][]byte) ([]byte, error) {
	var data []byte
	for _, leaf := range leaves {
		if len(leaf) > 0xffff {
			return nil, fmt.Errorf("a leaf of %d bytes is too long for a bundle", len(leaf))
		}
		data = binary.BigEndian.AppendUint16(data, uint16(len(leaf))) //nolint:gosec // compared above
		data = append(data, leaf...)
	}
	return data, nil
}

// ReadBundle gives the leaves of a bundle.
func ReadBundle(data []byte) ([][]byte, error) {
	var leaves [][]byte
	for len(data) > 0 {
		if len(data) < 2 || len(data) < 2+int(binary.BigEndian.Uint16(data)) {
			return nil, fmt.Errorf("bundle: leaf %d is cut off", len(leaves))
		}
		end := 2 + int(binary.BigEndian.Uint16(data))
		leaves, data = append(leaves, data[2:end]), data[end:]
	}
	return leaves, nil
}

// TileWriter makes the tiles of a log as its leaves come, and writes each when
// it is full; Close writes those that are not.
type TileWriter struct {
	Write func(path string, data []byte) error

	tree   Frontier
	hashes [7][]byte // of the tile that is not full yet, by level
	leaves [][]byte
}

// Append adds a leaf.
func (w *TileWriter) Append(leaf []byte) error {
	made, err := w.tree.Append(leaf)
	if err != nil {
		return err
	}
	for level := range w.hashes {
		if level*TileHeight < len(made) {
			w.hashes[level] = append(w.hashes[level], made[level*TileHeight][:]...)
			if err := w.flush(level, 1<<TileHeight); err != nil {
				return err
			}
		}
	}
	w.leaves = append(w.leaves, leaf)
	return w.flush(bundles, 1<<TileHeight)
}

// Close writes what is left.
func (w *TileWriter) Close() error {
	for level := bundles; level < len(w.hashes); level++ {
		if err := w.flush(level, 1); err != nil {
			return err
		}
	}
	return nil
}

// Tree is the tree of what was written.
func (w *TileWriter) Tree() *Frontier { return &w.tree }

// flush writes the open tile of a level once it holds at least that many.
func (w *TileWriter) flush(level, least int) (err error) {
	var data []byte
	width := len(w.leaves)
	if level != bundles {
		data = w.hashes[level]
		width = len(data) / tlog.HashSize
	}
	if width < least {
		return nil
	}
	if level == bundles {
		data, err = Bundle(w.leaves)
		w.leaves = nil
	} else {
		w.hashes[level] = nil
	}
	if err != nil {
		return err
	}
	n := (w.tree.Size()>>(TileHeight*max(level, 0)) - 1) >> TileHeight
	return w.Write(TilePath(tlog.Tile{H: TileHeight, L: level, N: n, W: width}), data)
}
