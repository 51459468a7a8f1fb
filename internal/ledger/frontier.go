package ledger

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// Frontier is a tree that grows by one leaf after another and holds one hash a
// level, whatever its size: enough for its root, not for proofs. The zero value
// is the empty tree.
type Frontier struct {
	size  int64
	right [64]struct { // the rightmost whole subtree of each level
		n    int64
		hash tlog.Hash
	}
}

// Size counts the leaves.
func (f *Frontier) Size() int64 { return f.size }

// Append adds a leaf and gives the hashes that follow from it, in the order of
// their numbers from tlog.StoredHashIndex(0, Size()) on.
func (f *Frontier) Append(leaf []byte) ([]tlog.Hash, error) {
	made, err := tlog.StoredHashes(f.size, leaf, f)
	if err != nil {
		return nil, fmt.Errorf("leaf %d: %w", f.size, err)
	}
	for level, hash := range made {
		f.right[level].n, f.right[level].hash = f.size>>level, hash
	}
	f.size++
	return made, nil
}

// Root is the root of the tree as it stands.
func (f *Frontier) Root() tlog.Hash {
	root, err := tlog.TreeHash(f.size, f)
	if err != nil {
		panic(err) // every subtree that a root is made of is held
	}
	return root
}

// ReadHashes makes the frontier a tlog.HashReader.
func (f *Frontier) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		level, n := tlog.SplitStoredHashIndex(index)
		if f.right[level].n != n || (n+1)<<level > f.size {
			return nil, fmt.Errorf("hash %d is not held any more", index)
		}
		hashes[i] = f.right[level].hash
	}
	return hashes, nil
}
