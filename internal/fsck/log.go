package fsck

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db"
	"settlemark/internal/ledger"
)

// epochCheck is the check of one epoch of the log. It reads leaves, stored
// hashes and signatures side by side and holds a page of each at a time.
type epochCheck struct {
	*check
	head   db.LogState
	tree   ledger.Frontier // built again
	first  []byte          // its first leaf, nil when it has none
	broken bool            // a leaf is missing: what comes after it can't be built again
	roots  map[int64]tlog.Hash

	policy  ledger.Policy
	nodes   *ahead[db.InspectedLeaf]
	signed  *ahead[db.LogCheckpoint]
	witness *ahead[db.LogCosignature]
	last    db.LogCheckpoint
}

// log builds every tree again and holds it to rows, checkpoints and outside.
func (c *check) log(i *db.Inspection, outside Outside) error {
	policy, err := c.policy(i, outside)
	if err != nil {
		return err
	}
	kept := c.opened(outside.Checkpoints, policy)
	heads, err := i.Epochs()
	if err != nil {
		return err
	}
	epochs := map[string]*epochCheck{}
	for n, head := range heads {
		if head.Epoch != n+1 || head.Size < 0 || head.Origin == "" {
			c.fault("the log: epoch %d is not whole", head.Epoch)
		}
		e := &epochCheck{check: c, head: head, policy: policy, roots: map[int64]tlog.Hash{}}
		for _, k := range kept {
			if k.Origin == head.Origin {
				e.roots[k.Size] = tlog.Hash{}
			}
		}
		if err := e.read(i); err != nil {
			return err
		}
		epochs[head.Origin] = e
	}
	waiting, err := i.Outbox()
	if err != nil {
		return err
	}
	for _, w := range waiting {
		if !w.Rides {
			c.Waiting++
		}
		c.tells("a leaf in the outbox", w.Leaf)
	}
	for _, what := range slices.Sorted(maps.Values(c.expected)) {
		c.fault("%s: the log does not tell of it as it stands", what)
	}
	for _, k := range kept {
		c.outside(epochs, heads, k)
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

// read goes through the epoch once, from its first leaf to its last.
func (e *epochCheck) read(i *db.Inspection) error {
	e.nodes, e.signed, e.witness = lookAhead(i.Nodes(e.head.Epoch)), lookAhead(i.Checkpoints(e.head.Epoch)), lookAhead(i.Cosignatures(e.head.Epoch))
	defer e.nodes.stop()
	defer e.signed.stop()
	defer e.witness.stop()
	e.reached()
	for l, err := range i.Leaves(e.head.Epoch) {
		if err != nil {
			return err
		}
		e.Leaves++
		if l.Place != e.tree.Size() {
			e.missing()
		}
		e.tells(fmt.Sprintf("leaf %d of epoch %d", l.Place, e.head.Epoch), l.Data)
		if e.broken {
			continue
		}
		if e.tree.Size() == 0 {
			e.first = l.Data
		}
		first := tlog.StoredHashIndex(0, e.tree.Size())
		made, err := e.tree.Append(l.Data)
		if err != nil {
			return err
		}
		e.compare(first, made)
		e.reached()
	}
	if e.tree.Size() < e.head.Size {
		e.missing()
	} else if e.tree.Size() > e.head.Size && !e.broken {
		e.fault("epoch %d of the log has %d leaves, its head says %d", e.head.Epoch, e.tree.Size(), e.head.Size)
	}
	e.ended()
	return errors.Join(e.nodes.err, e.signed.err, e.witness.err)
}

// missing says so once.
func (e *epochCheck) missing() {
	if !e.broken {
		e.fault("leaf %d of epoch %d is missing", e.tree.Size(), e.head.Epoch)
	}
	e.broken = true
}

// compare holds the stored hashes from a place on to those that the leaves give.
func (e *epochCheck) compare(place int64, made []tlog.Hash) {
	for _, hash := range made {
		for ; e.nodes.more && e.nodes.row.Place < place; e.nodes.advance() {
			e.fault("stored hash %d of epoch %d follows from no leaf", e.nodes.row.Place, e.head.Epoch)
		}
		switch level, n := tlog.SplitStoredHashIndex(place); {
		case !e.nodes.more || e.nodes.row.Place > place:
			e.fault("stored hash %d of epoch %d is missing", place, e.head.Epoch)
		case bytes.Equal(e.nodes.row.Data, hash[:]):
		case level == 0:
			e.fault("leaf %d of epoch %d is not what its stored hash %d says", n, e.head.Epoch, place)
		default:
			e.fault("stored hash %d of epoch %d is not what the leaves give", place, e.head.Epoch)
		}
		if e.nodes.more && e.nodes.row.Place == place {
			e.nodes.advance()
		}
		place++
	}
}

// reached holds the tree as far as it is built to what was signed of it.
func (e *epochCheck) reached() {
	size := e.tree.Size()
	if _, wanted := e.roots[size]; wanted {
		e.roots[size] = e.tree.Root()
	}
	for ; e.signed.more && e.signed.row.Size <= size; e.signed.advance() {
		e.checkpoint(e.signed.row)
	}
}

// ended looks at what lies behind the last leaf.
func (e *epochCheck) ended() {
	for ; e.nodes.more && !e.broken; e.nodes.advance() {
		e.fault("stored hash %d of epoch %d follows from no leaf", e.nodes.row.Place, e.head.Epoch)
	}
	for ; e.signed.more; e.signed.advance() {
		e.checkpoint(e.signed.row)
	}
	for ; e.witness.more; e.witness.advance() {
		e.fault("a cosignature of %s is under no checkpoint of %d", e.witness.row.Witness, e.witness.row.Size)
	}
	if e.last.Size != e.head.Signed {
		e.fault("checkpoint %d of epoch %d is missing, the newest is of %d", e.head.Signed, e.head.Epoch, e.last.Size)
	}
	if e.head.Published > e.head.Signed {
		e.fault("epoch %d of the log was published at %d and signed at %d", e.head.Epoch, e.head.Published, e.head.Signed)
	}
}

// checkpoint holds a checkpoint to the tree, which has its size by now.
func (e *epochCheck) checkpoint(c db.LogCheckpoint) {
	e.Checkpoints++
	where := fmt.Sprintf("checkpoint %d of epoch %d", c.Size, e.head.Epoch)
	said, err := ledger.OpenSigned(c.Signed, e.policy)
	switch {
	case err != nil:
		e.fault("%s: %v", where, err)
	case said.Size != c.Size || !bytes.Equal(said.Root[:], c.Root) || !said.Sealed.Equal(c.SealedAt) || said.Origin != e.head.Origin:
		e.fault("%s says otherwise than its columns", where)
	case c.Size != e.tree.Size():
		e.fault("%s: %s", where, e.younger(c.Size))
	case said.Root != e.tree.Root():
		e.fault("%s: the leaves give another root for size %d", where, c.Size)
	}
	if c.SealedAt.Before(e.last.SealedAt) {
		e.fault("%s was sealed before the one before it", where)
	}
	e.last = c
	for ; e.witness.more && e.witness.row.Size <= c.Size; e.witness.advance() {
		e.cosignature(c, e.witness.row)
	}
}

func (e *epochCheck) younger(size int64) string {
	return fmt.Sprintf("it is of %d leaves, the log has %d: the record is older than it", size, e.tree.Size())
}

// cosignature must be one of a witness that the policy knows by this name.
func (e *epochCheck) cosignature(c db.LogCheckpoint, s db.LogCosignature) {
	if !e.policy.Knows(s.Witness) {
		return // nobody here can say
	}
	known, err := ledger.Cosignatures(append(bytes.Clone(c.Signed), s.Line...), e.policy)
	if err != nil || c.Size != s.Size || len(known) != 1 || known[0].Witness != s.Witness || known[0].Line != s.Line {
		e.fault("the cosignature of %s under checkpoint %d of epoch %d is not of it", s.Witness, s.Size, e.head.Epoch)
	}
}

// opened reads the checkpoints that were kept elsewhere.
func (c *check) opened(kept [][]byte, policy ledger.Policy) []ledger.Checkpoint {
	var all []ledger.Checkpoint
	for _, signed := range kept {
		said, err := ledger.OpenSigned(signed, policy)
		if err != nil {
			c.fault("the checkpoint from outside: %v", err)
			continue
		}
		all = append(all, said)
	}
	return all
}

// outside holds the log to a checkpoint that was kept elsewhere. What an epoch
// lost in a restore, the first leaf of the next one admits.
func (c *check) outside(epochs map[string]*epochCheck, heads []db.LogState, said ledger.Checkpoint) {
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
	where := fmt.Sprintf("the checkpoint from outside (%d leaves of %s)", said.Size, said.Origin)
	switch {
	case said.Size > e.tree.Size():
		c.fault("%s: %s", where, e.younger(said.Size))
	case e.roots[said.Size] != said.Root:
		c.fault("%s: the leaves give another root for size %d", where, said.Size)
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
	digest := sha256.Sum256(leaf)
	if _, ok := c.expected[digest]; ok {
		delete(c.expected, digest)
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
