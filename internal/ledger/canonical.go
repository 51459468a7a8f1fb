package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/gowebpki/jcs"

	"settlemark/internal/commissioning"
)

// maxInteger is the first integer that a float64 can't tell from its neighbour.
const maxInteger = 1 << 53

// Canonical writes v as RFC 8785 canonical JSON. Numbers must be integers below
// 2^53: canonical JSON rounds others silently, so decimals travel as strings.
func Canonical(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("canonical JSON: %w", err)
	}
	if err := wholeNumbers(raw); err != nil {
		return nil, fmt.Errorf("canonical JSON: %w", err)
	}
	out, err := jcs.Transform(raw)
	if err != nil {
		return nil, fmt.Errorf("canonical JSON: %w", err)
	}
	return out, nil
}

func wholeNumbers(raw []byte) error {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		n, isNumber := token.(json.Number)
		if !isNumber {
			continue
		}
		i, err := strconv.ParseInt(n.String(), 10, 64)
		if err != nil || i <= -maxInteger || i >= maxInteger {
			return fmt.Errorf("number %s is not an integer below 2^53", n)
		}
	}
}

// Body is the canonical JSON of an entry as it is stored: everything but seq
// and received_at, which the database gives.
func Body(e commissioning.Entry) ([]byte, error) {
	e.Seq, e.ReceivedAt = 0, nil
	return Canonical(e)
}

// SentHash is the SHA-256 of an entry as the client sent it, by which the same
// entry is known when it comes again.
func SentHash(e commissioning.Entry) ([]byte, error) {
	body, err := Body(e)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(body)
	return sum[:], nil
}
