package certificate

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"

	"github.com/gowebpki/jcs"
)

// Encode writes the document as RFC 8785 canonical JSON. Its hash and the code
// that people type stand on these bytes.
func (d Document) Encode() ([]byte, error) {
	raw, err := json.Marshal(d)
	if err != nil {
		return nil, fmt.Errorf("certificate document: %w", err)
	}
	out, err := jcs.Transform(raw)
	if err != nil {
		return nil, fmt.Errorf("certificate document: %w", err)
	}
	return out, nil
}

// Decode reads what Encode wrote.
func Decode(document []byte) (Document, error) {
	var d Document
	if err := json.Unmarshal(document, &d); err != nil {
		return Document{}, fmt.Errorf("certificate document: %w", err)
	}
	if d.Format != Format {
		return Document{}, fmt.Errorf("certificate document: format %q is not %q", d.Format, Format)
	}
	return d, nil
}

// Hash is the SHA-256 of the canonical JSON.
func (d Document) Hash() ([sha256.Size]byte, error) {
	out, err := d.Encode()
	if err != nil {
		return [sha256.Size]byte{}, err
	}
	return sha256.Sum256(out), nil
}
