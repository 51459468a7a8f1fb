package ledger

import (
	"errors"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

const proofHeader = "c2sp.org/tlog-proof@v1"

// maxProof bounds a proof file; ours have less than 2,000 bytes.
const maxProof = 128 << 10

// Proof shows that one leaf stands in the log of a checkpoint. It needs nothing
// but the policy to check. As a file it is a C2SP tlog-proof.
type Proof struct {
	Index      int64 // of the leaf, from 0
	Hashes     tlog.RecordProof
	Checkpoint []byte // signed, verbatim
}

// Text writes the proof file.
func (p Proof) Text() []byte {
	text := fmt.Appendf(nil, "%s\nindex %d\n", proofHeader, p.Index)
	for _, h := range p.Hashes {
		text = append(text, h.String()+"\n"...)
	}
	return append(append(text, '\n'), p.Checkpoint...)
}

// ReadProof reads a proof file. It believes nothing yet; Check does. The line
// "extra", which nothing could vouch for, is refused: our files have none.
func ReadProof(text []byte) (Proof, error) {
	if len(text) > maxProof {
		return Proof{}, fmt.Errorf("proof: %d bytes are too many", len(text))
	}
	head, checkpoint, found := strings.Cut(string(text), "\n\n")
	lines := strings.Split(head, "\n")
	if !found || len(lines) < 2 || lines[0] != proofHeader {
		return Proof{}, errors.New("proof: this is no proof file")
	}
	written, ok := strings.CutPrefix(lines[1], "index ")
	if !ok {
		return Proof{}, errors.New("proof: no index where it belongs")
	}
	index, err := number(written)
	if err != nil {
		return Proof{}, fmt.Errorf("proof: index: %w", err)
	}
	p := Proof{Index: index, Checkpoint: []byte(checkpoint)}
	if len(lines)-2 > 63 {
		return Proof{}, errors.New("proof: too many hashes")
	}
	for _, line := range lines[2:] {
		h, err := readHash(line)
		if err != nil {
			return Proof{}, fmt.Errorf("proof: %w", err)
		}
		p.Hashes = append(p.Hashes, h)
	}
	return p, nil
}

// Claim gives what the proof says of itself, believing it: for print. Check is
// what shows it.
func (p Proof) Claim() (Checkpoint, error) {
	text, _, _ := strings.Cut(string(p.Checkpoint), "\n\n")
	return readCheckpoint(text + "\n")
}

// Check says whether the leaf stands in a log that the policy believes, and
// gives the checkpoint that shows it.
func (p Proof) Check(leaf []byte, policy Policy) (Checkpoint, error) {
	c, err := OpenCheckpoint(p.Checkpoint, policy)
	if err != nil {
		return Checkpoint{}, err
	}
	if p.Index < 0 || p.Index >= c.Size {
		return Checkpoint{}, fmt.Errorf("proof: index %d is outside a log of %d", p.Index, c.Size)
	}
	if err := tlog.CheckRecord(p.Hashes, c.Size, c.Root, p.Index, tlog.RecordHash(leaf)); err != nil {
		return Checkpoint{}, fmt.Errorf("proof: the leaf is not number %d of this log", p.Index)
	}
	return c, nil
}
