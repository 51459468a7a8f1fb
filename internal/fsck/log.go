package fsck

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db"
	"settlemark/internal/ledger"
)

// epochCheck is the check of one epoch of the log.
type epochCheck struct {
	*check
	head   db.LogState
	hashes []tlog.Hash // of the tree, built again
	leaves int64
	first  []byte // its first leaf, nil when it has none
	broken bool   // a leaf is missing
}

// log builds every tree again and holds it to rows, checkpoints and outside.
func (c *check) log(i *db.Inspection, outside Outside) error {
	policy, err := c.policy(i, outside)
	if err != nil {
		return err
	}
	heads, err := i.Epochs()
	if err != nil {
		return err
	}
	epochs := map[string]*epochCheck{}
	for n, head := range heads {
		e := &epochCheck{check: c, head: head}
		if head.Epoch != n+1 || head.Size < 0 || head.Origin == "" {
			c.fault("the log: epoch %d is not whole", head.Epoch)
		}
		if err := e.tree(i); err != nil {
			return err
		}
		if err := e.checkpoints(i, policy); err != nil {
			return err
		}
		epochs[head.Origin] = e
	}
	waiting, err := i.Outbox()
	if err != nil {
		return err
	}
	c.Waiting = len(waiting)
	for _, leaf := range waiting {
		c.tells("a leaf in the outbox", leaf)
	}
	for _, what := range slices.Sorted(maps.Values(c.expected)) {
		c.fault("%s: the log does not tell of it as it stands", what)
	}
	for _, signed := range outside.Checkpoints {
		c.outside(epochs, heads, signed, policy)
	}
	return nil
}

// policy is the one from outside or, without one, what the database says.
func (c *check) policy(i *db.Inspection, outside Outside) (ledger.Policy, error) {
	text := outside.Policy
	if text == "" {
		keys, err := i.LogKeys()
		if err != nil {
			return ledger.Policy{}, err
		}
		names := make([]string, len(keys))
		for i, k := range keys {
			names[i] = k.VKey
		}
		text = ledger.PolicyOf(names...)
	}
	p, err := ledger.ReadPolicy([]byte(text))
	if err != nil && outside.Policy == "" {
		c.fault("the log: its keys can't be read: %v", err)
		return ledger.ReadPolicy([]byte(ledger.PolicyOf()))
	}
	return p, err
}

// tree builds the tree from the leaves and compares every stored hash.
func (e *epochCheck) tree(i *db.Inspection) error {
	leaves, err := i.Leaves(e.head.Epoch)
	if err != nil {
		return err
	}
	e.Leaves += len(leaves)
	place := int64(0)
	for _, l := range leaves {
		for ; place < l.Place && !e.broken; place++ {
			e.missing(place)
		}
		e.tells(fmt.Sprintf("leaf %d of epoch %d", l.Place, e.head.Epoch), l.Data)
		if e.broken {
			continue
		}
		made, err := tlog.StoredHashes(place, l.Data, tlog.HashReaderFunc(e.read))
		if err != nil {
			return err
		}
		e.hashes = append(e.hashes, made...)
		if place == 0 {
			e.first = l.Data
		}
		place++
	}
	e.leaves = place
	if place < e.head.Size {
		e.missing(place)
	} else if place > e.head.Size && !e.broken {
		e.fault("epoch %d of the log has %d leaves, its head says %d", e.head.Epoch, place, e.head.Size)
	}
	return e.nodes(i)
}

// missing says so once; what comes after it can't be built again.
func (e *epochCheck) missing(place int64) {
	if !e.broken {
		e.fault("leaf %d of epoch %d is missing", place, e.head.Epoch)
	}
	e.broken = true
}

// nodes compares the stored hashes, as far as the leaves give them.
func (e *epochCheck) nodes(i *db.Inspection) error {
	nodes, err := i.Nodes(e.head.Epoch)
	if err != nil {
		return err
	}
	next := int64(0)
	for _, node := range nodes {
		for ; next < node.Place && next < int64(len(e.hashes)); next++ {
			e.fault("stored hash %d of epoch %d is missing", next, e.head.Epoch)
		}
		next = node.Place + 1
		switch level, n := tlog.SplitStoredHashIndex(node.Place); {
		case node.Place >= int64(len(e.hashes)):
			if !e.broken {
				e.fault("stored hash %d of epoch %d follows from no leaf", node.Place, e.head.Epoch)
			}
		case bytes.Equal(node.Data, e.hashes[node.Place][:]):
		case level == 0:
			e.fault("leaf %d of epoch %d is not what its stored hash %d says", n, e.head.Epoch, node.Place)
		default:
			e.fault("stored hash %d of epoch %d is not what the leaves give", node.Place, e.head.Epoch)
		}
	}
	if next < int64(len(e.hashes)) {
		e.fault("stored hash %d of epoch %d is missing", next, e.head.Epoch)
	}
	return nil
}

func (e *epochCheck) read(indexes []int64) ([]tlog.Hash, error) {
	found := make([]tlog.Hash, len(indexes))
	for i, n := range indexes {
		if n >= int64(len(e.hashes)) {
			return nil, fmt.Errorf("no hash %d", n)
		}
		found[i] = e.hashes[n]
	}
	return found, nil
}

// checkpoints holds the tree to everything that was signed.
func (e *epochCheck) checkpoints(i *db.Inspection, policy ledger.Policy) error {
	all, err := i.Checkpoints(e.head.Epoch)
	if err != nil {
		return err
	}
	cosigned, err := i.Cosignatures(e.head.Epoch)
	if err != nil {
		return err
	}
	e.Checkpoints += len(all)
	var last db.LogCheckpoint
	for _, c := range all {
		where := fmt.Sprintf("checkpoint %d of epoch %d", c.Size, e.head.Epoch)
		said, err := e.contains(c.Signed, policy)
		if err != nil {
			e.fault("%s: %v", where, err)
		} else if said.Size != c.Size || !bytes.Equal(said.Root[:], c.Root) || !said.Sealed.Equal(c.SealedAt) || said.Origin != e.head.Origin {
			e.fault("%s says otherwise than its columns", where)
		}
		if c.SealedAt.Before(last.SealedAt) {
			e.fault("%s was sealed before the one before it", where)
		}
		last = c
		for len(cosigned) > 0 && cosigned[0].Size <= c.Size {
			e.cosignature(c, cosigned[0], policy)
			cosigned = cosigned[1:]
		}
	}
	for _, s := range cosigned {
		e.fault("a cosignature of %s is under no checkpoint of %d", s.Witness, s.Size)
	}
	if last.Size != e.head.Signed {
		e.fault("checkpoint %d of epoch %d is missing, the newest is of %d", e.head.Signed, e.head.Epoch, last.Size)
	}
	if e.head.Published > e.head.Signed {
		e.fault("epoch %d of the log was published at %d and signed at %d", e.head.Epoch, e.head.Published, e.head.Signed)
	}
	return nil
}

// cosignature must be one of a witness that the policy knows by this name.
func (e *epochCheck) cosignature(c db.LogCheckpoint, s db.LogCosignature, policy ledger.Policy) {
	if !policy.Knows(s.Witness) {
		return // nobody here can say
	}
	known, err := ledger.Cosignatures(append(bytes.Clone(c.Signed), s.Line...), policy)
	if err != nil || c.Size != s.Size || len(known) != 1 || known[0].Witness != s.Witness || known[0].Line != s.Line {
		e.fault("the cosignature of %s under checkpoint %d of epoch %d is not of it", s.Witness, s.Size, e.head.Epoch)
	}
}

// contains says whether the tree has the checkpoint in its past.
func (e *epochCheck) contains(signed []byte, policy ledger.Policy) (ledger.Checkpoint, error) {
	c, err := ledger.OpenSigned(signed, policy)
	if err != nil {
		return c, err
	}
	if c.Size > e.leaves {
		return c, fmt.Errorf("it is of %d leaves, the log has %d: the record is older than it", c.Size, e.leaves)
	}
	root, err := tlog.TreeHash(c.Size, tlog.HashReaderFunc(e.read))
	if err == nil && root != c.Root {
		err = fmt.Errorf("the leaves give another root for size %d", c.Size)
	}
	return c, err
}

// outside holds the log to a checkpoint that was kept elsewhere. What an epoch
// lost in a restore, the first leaf of the next one admits.
func (c *check) outside(epochs map[string]*epochCheck, heads []db.LogState, signed []byte, policy ledger.Policy) {
	said, err := ledger.OpenSigned(signed, policy)
	if err != nil {
		c.fault("the checkpoint from outside: %v", err)
		return
	}
	e := epochs[said.Origin]
	if e == nil {
		c.fault("the checkpoint from outside is of %s, which is no log of this record", said.Origin)
		return
	}
	if e.head.Epoch < len(heads) {
		if next := epochs[heads[e.head.Epoch].Origin]; next != nil && admits(next.first, said) {
			return
		}
	}
	if _, err := e.contains(signed, policy); err != nil {
		c.fault("the checkpoint from outside (%d leaves of %s): %v", said.Size, said.Origin, err)
	}
}

// admits says whether a restore leaf tells that the checkpoint reaches beyond
// what was held.
func admits(restore []byte, lost ledger.Checkpoint) bool {
	var told struct {
		T      string `json:"t"`
		Origin string `json:"origin"`
		Size   int64  `json:"size"`
		Held   int64  `json:"held"`
	}
	return json.Unmarshal(restore, &told) == nil && told.T == "restore/1" && told.Origin == lost.Origin &&
		lost.Size > told.Held && lost.Size <= told.Size
}

// tells ticks off what the leaf tells of.
func (c *check) tells(where string, leaf []byte) {
	if _, ok := c.expected[string(leaf)]; ok {
		delete(c.expected, string(leaf))
		return
	}
	var told struct{ T, Table, Key, Run, Number, Status string }
	var seq struct{ Seq, ID int64 }
	if json.Unmarshal(leaf, &told) != nil {
		c.fault("%s can't be read", where)
		return
	}
	_ = json.Unmarshal(leaf, &seq) // leaves without numbers have none
	var of string
	switch told.T {
	case "key/1", "restore/1":
		return // they tell of the log itself
	case "entry/1":
		of = fmt.Sprintf("the post up to entry %d of run %s", seq.Seq, told.Run)
	case "act/1":
		of = fmt.Sprintf("acts %d", seq.ID)
	case "row/1":
		of = told.Table + " " + told.Key
	default:
		of = fmt.Sprintf("certificate %s (%s %s)", told.Number, told.T, told.Status)
	}
	c.fault("%s tells of %s, which is not there as it was", where, of)
}
