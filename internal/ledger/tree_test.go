package ledger_test

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"github.com/transparency-dev/merkle/testonly"
	"golang.org/x/mod/sumdb/tlog"

	"settlemark/internal/ledger"
)

// grown is a tree of these leaves, with all its stored hashes in memory.
func grown(t testing.TB, leaves ...[]byte) *ledger.Tree {
	t.Helper()
	tree := ledger.NewTree(0, func(missing []int64) ([]tlog.Hash, error) {
		return nil, fmt.Errorf("it asks for %v", missing)
	})
	for _, leaf := range leaves {
		if err := tree.Append(leaf); err != nil {
			t.Fatal(err)
		}
	}
	return tree
}

func numbered(n int) [][]byte {
	leaves := make([][]byte, n)
	for i := range leaves {
		leaves[i] = fmt.Appendf(nil, "leaf %d", i)
	}
	return leaves
}

func TestTree(t *testing.T) {
	t.Run("has the roots of RFC 6962", func(t *testing.T) {
		// testdata/rfc6962_roots.json names its source.
		var vectors struct {
			Leaves []string `json:"leaf_inputs_hex"`
			Roots  []string `json:"root_by_size"`
			Leaf   string   `json:"leaf_L123456"`
			Node   string   `json:"node_N123_N456"`
		}
		text, err := os.ReadFile("testdata/rfc6962_roots.json")
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(text, &vectors); err != nil || len(vectors.Roots) != 9 {
			t.Fatalf("%d roots, %v", len(vectors.Roots), err)
		}
		tree := grown(t)
		for size, want := range vectors.Roots {
			root, err := tree.RootAt(int64(size))
			if err != nil || hex.EncodeToString(root[:]) != want {
				t.Errorf("size %d: got %x, %v; want %s", size, root, err, want)
			}
			if size < len(vectors.Leaves) {
				leaf, _ := hex.DecodeString(vectors.Leaves[size])
				if err := tree.Append(leaf); err != nil {
					t.Fatal(err)
				}
			}
		}
		if h := tlog.RecordHash([]byte("L123456")); hex.EncodeToString(h[:]) != vectors.Leaf {
			t.Errorf("leaf hash %x", h)
		}
	})
	t.Run("agrees with a second implementation on every root and proof", func(t *testing.T) {
		const most = 70
		ours, theirs := grown(t, numbered(most)...), testonly.New(rfc6962.DefaultHasher)
		theirs.AppendData(numbered(most)...)
		proofs := 0
		for size := int64(1); size <= most; size++ {
			root, err := ours.RootAt(size)
			if err != nil || !bytes.Equal(root[:], theirs.HashAt(uint64(size))) {
				t.Fatalf("size %d: root %x, %v", size, root, err)
			}
			for index := int64(0); index < size; index++ {
				p, err := ours.Prove(index, size)
				if err != nil {
					t.Fatal(err)
				}
				hashes := make([][]byte, len(p))
				for i := range p {
					hashes[i] = p[i][:]
				}
				leaf := rfc6962.DefaultHasher.HashLeaf(fmt.Appendf(nil, "leaf %d", index))
				if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(index), uint64(size), leaf, hashes, root[:]); err != nil {
					t.Fatalf("leaf %d of %d: %v", index, size, err)
				}
				proofs++
			}
		}
		t.Logf("%d roots and %d proofs agree", most, proofs)
	})
	t.Run("grows from what it was, reading a few hashes", func(t *testing.T) {
		whole := grown(t, numbered(1000)...)
		read := 0
		tree := ledger.NewTree(777, func(missing []int64) ([]tlog.Hash, error) {
			read += len(missing)
			return whole.ReadHashes(missing)
		})
		for _, leaf := range numbered(1000)[777:] {
			if err := tree.Append(leaf); err != nil {
				t.Fatal(err)
			}
		}
		got, err := tree.RootAt(1000)
		want, _ := whole.RootAt(1000)
		if err != nil || got != want || read > 20 {
			t.Errorf("root %s, want %s, after %d reads, %v", got, want, read, err)
		}
		if made := int64(len(tree.Made())); made != tlog.StoredHashCount(1000)-tlog.StoredHashCount(777) {
			t.Errorf("it made %d hashes", made)
		}
	})
	t.Run("is the same where only its right edge is held", func(t *testing.T) {
		const most = 300
		whole, edge := grown(t, numbered(most)...), &ledger.Frontier{}
		var made []tlog.Hash
		for size, leaf := range append(numbered(most), nil) {
			if want, err := whole.RootAt(int64(size)); err != nil || edge.Root() != want {
				t.Fatalf("size %d: root %s, want %s, %v", size, edge.Root(), want, err)
			}
			more, err := edge.Append(leaf)
			if err != nil {
				t.Fatal(err)
			}
			made = append(made, more...)
		}
		if !slices.Equal(made[:len(whole.Made())], whole.Made()) {
			t.Error("it makes other hashes")
		}
	})
	t.Run("extends what it was and nothing else", func(t *testing.T) {
		tree, other := grown(t, numbered(50)...), grown(t, append(numbered(19), []byte("other"))...)
		for size := range int64(51) {
			root, _ := tree.RootAt(size)
			if err := tree.Extends(ledger.Checkpoint{Size: size, Root: root}); err != nil {
				t.Errorf("size %d: %v", size, err)
			}
		}
		root, _ := other.RootAt(20)
		if tree.Extends(ledger.Checkpoint{Size: 20, Root: root}) == nil {
			t.Error("it extends another log")
		}
		if tree.Extends(ledger.Checkpoint{Size: 51}) == nil {
			t.Error("it extends a longer log")
		}
	})
}
