package ledger

import (
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// maxCheckpoint bounds a signed checkpoint; ours have some hundred bytes.
const maxCheckpoint = 64 << 10

// Checkpoint says what the whole log was at one size. Signed, it is a C2SP
// tlog-checkpoint.
type Checkpoint struct {
	Origin string // which log
	Size   int64
	Root   tlog.Hash
	Sealed time.Time // by the clock of who signed; zero when it does not say
}

// sealed begins the extension line with the time, so that the log's word on
// when it sealed is under its signature.
const sealed = "sealed "

// Text is what the log signs.
func (c Checkpoint) Text() string {
	text := fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, c.Root)
	if !c.Sealed.IsZero() {
		text += sealed + Instant(c.Sealed) + "\n"
	}
	return text
}

// readCheckpoint reads the body of a checkpoint. Extension lines that we don't
// know are for others and left alone.
func readCheckpoint(text string) (Checkpoint, error) {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if len(lines) < 3 || lines[0] == "" {
		return Checkpoint{}, errors.New("checkpoint: not origin, size and root")
	}
	size, err := number(lines[1])
	if err != nil {
		return Checkpoint{}, fmt.Errorf("checkpoint: size: %w", err)
	}
	root, err := readHash(lines[2])
	if err != nil {
		return Checkpoint{}, fmt.Errorf("checkpoint: root: %w", err)
	}
	c := Checkpoint{Origin: lines[0], Size: size, Root: root}
	for _, extension := range lines[3:] {
		if extension == "" {
			return Checkpoint{}, errors.New("checkpoint: an empty line")
		}
		if at, ok := strings.CutPrefix(extension, sealed); ok {
			if c.Sealed, err = time.Parse(instant, at); err != nil {
				return Checkpoint{}, fmt.Errorf("checkpoint: sealed: %w", err)
			}
		}
	}
	return c, nil
}

func readHash(text string) (tlog.Hash, error) {
	raw, err := base64.StdEncoding.Strict().DecodeString(text)
	if err != nil || len(raw) != tlog.HashSize || len(text) != 44 {
		return tlog.Hash{}, fmt.Errorf("%q is no hash", text)
	}
	return tlog.Hash(raw), nil
}

// SignCheckpoint signs with every key: two while one key follows another.
func SignCheckpoint(c Checkpoint, signers ...note.Signer) ([]byte, error) {
	return note.Sign(&note.Note{Text: c.Text()}, signers...)
}

// OpenCheckpoint reads a signed checkpoint that the policy believes: signed by
// one of its logs, whose key carries the origin's name, and cosigned by enough
// of its witnesses. Signatures of keys that the policy doesn't know are left
// aside; one of a key that it knows must be right.
func OpenCheckpoint(signed []byte, p Policy) (Checkpoint, error) {
	c, cosigned, err := openCheckpoint(signed, p)
	if err != nil {
		return Checkpoint{}, err
	}
	names := map[string]bool{}
	for _, s := range cosigned {
		names[s.Witness] = true
	}
	if !p.enough(names) {
		return Checkpoint{}, fmt.Errorf("checkpoint: its witnesses don't make the quorum %s", p.quorum)
	}
	return c, nil
}

// OpenSigned is OpenCheckpoint without the witnesses: the log's own word, for
// who asks whether the log keeps it.
func OpenSigned(signed []byte, p Policy) (Checkpoint, error) {
	c, _, err := openCheckpoint(signed, p)
	return c, err
}

// Cosignature is a witness's word that it saw the log at this checkpoint.
type Cosignature struct {
	Witness string // its name in the policy
	At      time.Time
	Line    string // as it stands under the checkpoint
}

// Cosignatures gives the cosignatures of witnesses that the policy knows,
// whether or not they make its quorum.
func Cosignatures(signed []byte, p Policy) ([]Cosignature, error) {
	_, cosigned, err := openCheckpoint(signed, p)
	return cosigned, err
}

func openCheckpoint(signed []byte, p Policy) (Checkpoint, []Cosignature, error) {
	n, err := openNote(signed, p, maxCheckpoint)
	if err != nil {
		return Checkpoint{}, nil, fmt.Errorf("checkpoint: %w", err)
	}
	c, err := readCheckpoint(n.Text)
	if err != nil {
		return Checkpoint{}, nil, err
	}
	if !p.signedByLog(n, c.Origin) {
		return Checkpoint{}, nil, fmt.Errorf("checkpoint: no key of the policy signed for %s", c.Origin)
	}
	var cosigned []Cosignature
	for _, s := range n.Sigs {
		for _, w := range p.witnesses {
			if w.key.Name() == s.Name && w.key.KeyHash() == s.Hash {
				raw, _ := base64.StdEncoding.DecodeString(s.Base64)               // openNote read it
				at := time.Unix(int64(binary.BigEndian.Uint64(raw[4:])), 0).UTC() //nolint:gosec // Verify bounds it
				cosigned = append(cosigned, Cosignature{Witness: w.Name, At: at, Line: "— " + s.Name + " " + s.Base64 + "\n"})
			}
		}
	}
	return c, cosigned, nil
}

// openNote is note.Open for bytes of strangers: bounded, and strict about how
// signatures are written, so that no byte can change unseen.
func openNote(signed []byte, p Policy, most int) (*note.Note, error) {
	if len(signed) > most {
		return nil, fmt.Errorf("%d bytes are too many", len(signed))
	}
	n, err := note.Open(signed, p.verifiers())
	if err != nil {
		return nil, err
	}
	again := n.Text + "\n"
	for _, s := range append(append([]note.Signature{}, n.Sigs...), n.UnverifiedSigs...) {
		if _, err := base64.StdEncoding.Strict().DecodeString(s.Base64); err != nil {
			return nil, errors.New("a signature is not written as base64")
		}
		again += "— " + s.Name + " " + s.Base64 + "\n"
	}
	if len(again) != len(signed) {
		return nil, errors.New("a signature stands twice")
	}
	return n, nil
}

// signedByLog says whether a log of the policy, named as the origin, signed.
func (p Policy) signedByLog(n *note.Note, origin string) bool {
	for _, s := range n.Sigs {
		for _, v := range p.logs {
			if s.Name == origin && v.Name() == origin && v.KeyHash() == s.Hash {
				return true
			}
		}
	}
	return false
}
