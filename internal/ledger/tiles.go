package ledger

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// tileHeight: a tile holds up to 256 hashes, as C2SP tlog-tiles has it.
const tileHeight = 8

// Tile is one file of a log in the form of C2SP tlog-tiles.
type Tile struct {
	Path string // below the log's folder, with slashes
	Data []byte
}

// Tiles gives every file of a log of these leaves: its hashes by level, and the
// leaves in bundles. hashes reads the stored hashes.
func Tiles(leaves [][]byte, hashes tlog.HashReader) ([]Tile, error) {
	size := int64(len(leaves))
	var all []Tile
	for level, count := 0, size; count > 0; level, count = level+1, count>>tileHeight {
		for n := int64(0); n<<tileHeight < count; n++ {
			width := min(count-n<<tileHeight, 1<<tileHeight)
			data, err := tlog.ReadTileData(tlog.Tile{H: tileHeight, L: level, N: n, W: int(width)}, hashes)
			if err != nil {
				return nil, fmt.Errorf("tile %d of level %d: %w", n, level, err)
			}
			all = append(all, Tile{tilePath(fmt.Sprint(level), n, width), data})
		}
	}
	for n := int64(0); n<<tileHeight < size; n++ {
		bundle := leaves[n<<tileHeight : min((n+1)<<tileHeight, size)]
		var data []byte
		for _, leaf := range bundle {
			if len(leaf) > 0xffff {
				return nil, fmt.Errorf("a leaf of %d bytes is too long for a bundle", len(leaf))
			}
			data = binary.BigEndian.AppendUint16(data, uint16(len(leaf))) //nolint:gosec // compared above
			data = append(data, leaf...)
		}
		all = append(all, Tile{tilePath("entries", n, int64(len(bundle))), data})
	}
	return all, nil
}

// tilePath writes the number in groups of three digits: 1234067 is
// x001/x234/067. A tile that is not full ends in its width.
func tilePath(level string, n, width int64) string {
	path := fmt.Sprintf("%03d", n%1000)
	for n /= 1000; n > 0; n /= 1000 {
		path = fmt.Sprintf("x%03d/%s", n%1000, path)
	}
	path = "tile/" + level + "/" + path
	if width < 1<<tileHeight {
		path += fmt.Sprintf(".p/%d", width)
	}
	return path
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
