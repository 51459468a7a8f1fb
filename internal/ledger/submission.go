package ledger

import (
	"errors"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// Submission asks a witness to cosign a checkpoint: C2SP tlog-witness,
// add-checkpoint. Proof shows that the log of size Old, which the witness saw
// last, is the beginning of this one.
type Submission struct {
	Old        int64
	Proof      tlog.TreeProof
	Checkpoint []byte
}

// Text writes the body of the request.
func (s Submission) Text() []byte {
	text := fmt.Appendf(nil, "old %d\n", s.Old)
	for _, h := range s.Proof {
		text = append(text, h.String()+"\n"...)
	}
	return append(append(text, '\n'), s.Checkpoint...)
}

// ReadSubmission reads the body of a request. It believes nothing yet.
func ReadSubmission(text []byte) (Submission, error) {
	head, checkpoint, found := strings.Cut(string(text), "\n\n")
	lines := strings.Split(head, "\n")
	old, ok := strings.CutPrefix(lines[0], "old ")
	if !found || !ok || len(lines)-1 > 63 {
		return Submission{}, errors.New("submission: not old size, proof and checkpoint")
	}
	size, err := number(old)
	if err != nil {
		return Submission{}, fmt.Errorf("submission: old: %w", err)
	}
	s := Submission{Old: size, Checkpoint: []byte(checkpoint)}
	for _, line := range lines[1:] {
		h, err := readHash(line)
		if err != nil {
			return Submission{}, fmt.Errorf("submission: %w", err)
		}
		s.Proof = append(s.Proof, h)
	}
	return s, nil
}

// Continues says whether the proof shows that c continues older. An empty log
// is the beginning of every log.
func (s Submission) Continues(older, c Checkpoint) error {
	switch {
	case older.Size == 0 || older.Size == c.Size:
		if len(s.Proof) > 0 || older.Size == c.Size && older.Root != c.Root && c.Size > 0 {
			return errors.New("submission: the proof is not of these two")
		}
		return nil
	case older.Size > c.Size:
		return errors.New("submission: the log has shrunk")
	}
	return tlog.CheckTree(s.Proof, c.Size, c.Root, older.Size, older.Root)
}

// Origin gives the first line of a signed checkpoint, believing nothing.
func Origin(signed []byte) string {
	origin, _, _ := strings.Cut(string(signed), "\n")
	return origin
}

// Believes says whether the policy names a log of this origin.
func (p Policy) Believes(origin string) bool {
	for _, v := range p.logs {
		if v.Name() == origin {
			return true
		}
	}
	return false
}
