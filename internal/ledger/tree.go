package ledger

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// Tree is the log's tree while leaves are added to it. It holds no leaves: it
// asks read for the stored hashes that it needs (numbered as tlog numbers
// them), keeps those, and those that it makes.
type Tree struct {
	size int64
	kept map[int64]tlog.Hash
	read func(indexes []int64) ([]tlog.Hash, error)
	made []tlog.Hash
}

// NewTree is the tree of the given size.
func NewTree(size int64, read func(indexes []int64) ([]tlog.Hash, error)) *Tree {
	return &Tree{size: size, kept: map[int64]tlog.Hash{}, read: read}
}

// Size counts the leaves.
func (t *Tree) Size() int64 { return t.size }

// Made gives the hashes that Append made, in the order of their numbers.
func (t *Tree) Made() []tlog.Hash { return t.made }

// Append adds a leaf.
func (t *Tree) Append(leaf []byte) error {
	hashes, err := tlog.StoredHashes(t.size, leaf, t)
	if err != nil {
		return fmt.Errorf("leaf %d: %w", t.size, err)
	}
	first := tlog.StoredHashCount(t.size)
	for i, h := range hashes {
		t.kept[first+int64(i)] = h
	}
	t.made = append(t.made, hashes...)
	t.size++
	return nil
}

// RootAt is the root that the tree had at an earlier size.
func (t *Tree) RootAt(size int64) (tlog.Hash, error) {
	if size < 0 || size > t.size {
		return tlog.Hash{}, fmt.Errorf("the log has %d leaves, not %d", t.size, size)
	}
	return tlog.TreeHash(size, t)
}

// Extends says whether the checkpoint is one of this tree's past.
func (t *Tree) Extends(c Checkpoint) error {
	root, err := t.RootAt(c.Size)
	if err != nil {
		return err
	}
	if root != c.Root {
		return fmt.Errorf("at size %d the log has the root %s, the checkpoint %s", c.Size, root, c.Root)
	}
	return nil
}

// Prove shows that the leaf stands in the tree of the given size.
func (t *Tree) Prove(index, size int64) (tlog.RecordProof, error) {
	return tlog.ProveRecord(size, index, t)
}

// ReadHashes makes the tree a tlog.HashReader.
func (t *Tree) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	var missing []int64
	for _, i := range indexes {
		if _, ok := t.kept[i]; !ok {
			missing = append(missing, i)
		}
	}
	if len(missing) > 0 {
		found, err := t.read(missing)
		if err != nil {
			return nil, err
		}
		if len(found) != len(missing) {
			return nil, fmt.Errorf("%d of %d stored hashes are missing", len(missing)-len(found), len(missing))
		}
		for i, h := range found {
			t.kept[missing[i]] = h
		}
	}
	hashes := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		hashes[i] = t.kept[index]
	}
	return hashes, nil
}
