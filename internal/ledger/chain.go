// Package ledger holds the arithmetic of the record: canonical JSON of an
// entry, the chain that ties the posts of a run together, and the log across
// runs, a Merkle tree of RFC 6962 with signed checkpoints, proofs and lists of
// certificates that no longer stand, which anybody can check with nothing but a
// Policy.
//
// The database computes the same chain and leaves when it stores a post; this
// package computes them again when the record is checked. Files follow C2SP:
// tlog-checkpoint, tlog-cosignature, tlog-policy, tlog-proof, tlog-tiles. It is
// pure: no clock, no database, no network; keys come in. What it gives for
// stored bytes may never change.
package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
)

// Opening is the head of a run before its first post: the digest of what the
// run was opened on, as canonical JSON. So entries can't be moved to a run of
// another unit or procedure.
func Opening(opening []byte) []byte {
	return digest([]byte("run-open/1\x00"), opening)
}

// Link is the head after a post: last is the seq of its last entry, post its
// canonical JSON.
//
//	SHA-256("run-chain/1" 0x00 previous int32(last) SHA-256(post))
func Link(previous []byte, last int, post []byte) []byte {
	seq := binary.BigEndian.AppendUint32(nil, uint32(last)) //nolint:gosec // a seq is positive and fits
	return digest([]byte("run-chain/1\x00"), previous, seq, digest(post))
}

// Post is the canonical JSON array of the bodies of a post's entries.
func Post(bodies [][]byte) []byte {
	post := append([]byte{'['}, bytes.Join(bodies, []byte{','})...)
	return append(post, ']')
}

func digest(parts ...[]byte) []byte {
	h := sha256.New()
	for _, p := range parts {
		h.Write(p)
	}
	return h.Sum(nil)
}
