package ledger

import (
	"encoding/hex"
	"time"
)

// Leaves of the log are small canonical JSON. Most are written in the database
// in the transaction of what they tell of; those that somebody outside of it
// needs are written here too, and a test of db compares them.

// CertificateLeaf tells of a release: document is its stored canonical JSON.
func CertificateLeaf(number string, document []byte) []byte {
	return CertificateLeafOf(number, digest(document))
}

// CertificateLeafOf is CertificateLeaf by the document's SHA-256.
func CertificateLeafOf(number string, sha256 []byte) []byte {
	return leaf(map[string]any{"t": "certificate/1", "number": number, "digest": hex.EncodeToString(sha256)})
}

// CertificateFileLeaf tells of a release's signed PDF.
func CertificateFileLeaf(number string, pdf []byte) []byte {
	return CertificateFileLeafOf(number, digest(pdf))
}

// CertificateFileLeafOf is CertificateFileLeaf by the file's SHA-256.
func CertificateFileLeafOf(number string, sha256 []byte) []byte {
	return leaf(map[string]any{"t": "certificate-pdf/1", "number": number, "sha256": hex.EncodeToString(sha256)})
}

// EntryLeaf tells of a post: its chain, and what the chain does not cover. sent
// is the SHA-256 of the hashes of its entries as they were sent.
func EntryLeaf(run string, last int, chain, sent []byte, received time.Time) []byte {
	return leaf(map[string]any{
		"t": "entry/1", "run": run, "seq": last, "chain": hex.EncodeToString(chain), "sent": hex.EncodeToString(sent),
		"received": Instant(received),
	})
}

// RowLeaf tells of any other row of evidence by the digest of its columns.
func RowLeaf(table, key string, columns []byte) []byte {
	if id, err := number(key); table == "acts" && err == nil {
		return leaf(map[string]any{"t": "act/1", "id": id, "digest": hex.EncodeToString(columns)})
	}
	return leaf(map[string]any{"t": "row/1", "table": table, "key": key, "digest": hex.EncodeToString(columns)})
}

// StatusLeaf tells that a certificate is superseded or withdrawn.
func StatusLeaf(number, status string, at time.Time, reason string) []byte {
	return leaf(map[string]any{
		"t": "status/1", "number": number, "status": status, "at": Instant(at), "reason": hex.EncodeToString(digest([]byte(reason))),
	})
}

// KeyLeaf tells that another key signs for the log from now on. signed is the
// new key's name under the old key's signature.
func KeyLeaf(origin, vkey, signed string, at time.Time) []byte {
	return leaf(map[string]any{"t": "key/1", "origin": origin, "key": vkey, "signed": signed, "at": Instant(at)})
}

// RestoreLeaf begins the log of a new epoch: what the newest known checkpoint
// of the one before was, how much of it the record still holds, and why.
func RestoreLeaf(known Checkpoint, held int64, reason string, at time.Time) []byte {
	return leaf(map[string]any{
		"t": "restore/1", "at": Instant(at), "reason": reason, "held": held,
		"origin": known.Origin, "size": known.Size, "root": known.Root.String(),
	})
}

// Instant is how leaves write a time: UTC, with six decimals.
func Instant(at time.Time) string { return at.UTC().Format(instant) }

const instant = "2006-01-02T15:04:05.000000Z"

func leaf(fields map[string]any) []byte {
	out, err := Canonical(fields)
	if err != nil {
		panic(err) // strings and sizes below 2^53 always can be written
	}
	return out
}
