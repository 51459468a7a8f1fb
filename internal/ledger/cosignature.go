package ledger

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
)

// signedAt is how many bytes of a cosignature tell its time.
const signedAt = 8

// cosignatureMessage is what a witness signs: C2SP tlog-cosignature, Ed25519.
func cosignatureMessage(at uint64, text []byte) []byte {
	return append(fmt.Appendf(nil, "cosignature/v1\ntime %d\n", at), text...)
}

// cosignatureVerifier checks the cosignatures of one witness.
type cosignatureVerifier struct {
	name string
	hash uint32
	key  ed25519.PublicKey
}

func newCosignatureVerifier(vkey string) (note.Verifier, error) {
	name, data, err := splitKey(vkey)
	if err != nil {
		return nil, err
	}
	if data[0] != algorithmCosignature {
		return nil, fmt.Errorf("%q is no key for cosignatures", vkey)
	}
	return &cosignatureVerifier{name: name, hash: keyHash(name, data), key: data[1:]}, nil
}

func (v *cosignatureVerifier) Name() string    { return v.name }
func (v *cosignatureVerifier) KeyHash() uint32 { return v.hash }

func (v *cosignatureVerifier) Verify(text, signature []byte) bool {
	if len(signature) != signedAt+ed25519.SignatureSize {
		return false
	}
	at := binary.BigEndian.Uint64(signature)
	return at < 1<<63 && ed25519.Verify(v.key, cosignatureMessage(at, text), signature[signedAt:])
}

// Cosigner is the key of a witness.
type Cosigner struct {
	name string
	key  ed25519.PrivateKey
}

// NewCosigner makes the key of a witness from 32 bytes of random.
func NewCosigner(random io.Reader, name string) (Cosigner, error) {
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(random, seed); err != nil {
		return Cosigner{}, err
	}
	return Cosigner{name: name, key: ed25519.NewKeyFromSeed(seed)}, nil
}

const privateKey = "PRIVATE+KEY+"

// ReadCosigner reads what Text wrote.
func ReadCosigner(text string) (Cosigner, error) {
	rest, ok := strings.CutPrefix(strings.TrimSpace(text), privateKey)
	name, rest, _ := strings.Cut(rest, "+")
	_, encoded, _ := strings.Cut(rest, "+")
	data, err := base64.StdEncoding.Strict().DecodeString(encoded)
	if !ok || err != nil || len(data) != 1+ed25519.SeedSize || data[0] != algorithmCosignature {
		return Cosigner{}, fmt.Errorf("this is no witness key")
	}
	c := Cosigner{name: name, key: ed25519.NewKeyFromSeed(data[1:])}
	if c.Text() != strings.TrimSpace(text) {
		return Cosigner{}, fmt.Errorf("the witness key is damaged")
	}
	return c, nil
}

// Text is the private key as a key file keeps it.
func (c Cosigner) Text() string { return privateKey + c.written(c.key.Seed()) }

// VerifierKey is what the log's policy names the witness by.
func (c Cosigner) VerifierKey() string { return c.written(c.public()) }

func (c Cosigner) public() []byte {
	return bytes.Clone(c.key[ed25519.SeedSize:])
}

// written joins name, hash of the public key, and the key given.
func (c Cosigner) written(key []byte) string {
	hash := keyHash(c.name, append([]byte{algorithmCosignature}, c.public()...))
	return fmt.Sprintf("%s+%08x+%s", c.name, hash, base64.StdEncoding.EncodeToString(append([]byte{algorithmCosignature}, key...)))
}

// Cosign gives the signature line that goes under a signed checkpoint. It says
// "as of this time, this is the newest that I saw of this log", so it is for
// checkpoints whose signature and consistency were checked.
func (c Cosigner) Cosign(signed []byte, at time.Time) string {
	text := signed[:bytes.LastIndex(signed, []byte("\n\n"))+1]
	unix := uint64(at.Unix()) //nolint:gosec // after 1970
	line := binary.BigEndian.AppendUint32(nil, keyHash(c.name, append([]byte{algorithmCosignature}, c.public()...)))
	line = binary.BigEndian.AppendUint64(line, unix)
	line = append(line, ed25519.Sign(c.key, cosignatureMessage(unix, text))...)
	return "— " + c.name + " " + base64.StdEncoding.EncodeToString(line) + "\n"
}
