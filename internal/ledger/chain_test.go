package ledger_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
)

// A run of two posts. db's TestAppend holds the database to the same chain.
func Example() {
	head := ledger.Opening([]byte(`{"unit":{"tag":"U-1"}}`))
	head = ledger.Link(head, 2, ledger.Post([][]byte{[]byte(`{"kind":"start"}`), []byte(`{"kind":"stop"}`)}))
	head = ledger.Link(head, 3, ledger.Post([][]byte{[]byte(`{"kind":"note","text":"done"}`)}))
	fmt.Println(len(head), "bytes that two people sign")
	// Output: 32 bytes that two people sign
}

func TestLink(t *testing.T) {
	// Put together by hand from the formula in the doc of Link.
	previous := sha256.Sum256([]byte("before"))
	post := []byte(`[{"kind":"start"}]`)
	inner := sha256.Sum256(post)
	whole := append([]byte("run-chain/1\x00"), previous[:]...)
	whole = append(whole, 0, 0, 1, 2) // 258, big-endian
	whole = append(whole, inner[:]...)
	want := sha256.Sum256(whole)
	t.Run("is the formula", func(t *testing.T) {
		if got := ledger.Link(previous[:], 258, post); !bytes.Equal(got, want[:]) {
			t.Errorf("got %x, want %x", got, want)
		}
	})
	t.Run("never changes for stored bytes", func(t *testing.T) {
		// From memory of this package's first version: stored chains hang on it.
		opening := hex.EncodeToString(ledger.Opening([]byte("{}")))
		want := sha256.Sum256([]byte("run-open/1\x00{}"))
		if opening != hex.EncodeToString(want[:]) {
			t.Errorf("got %s", opening)
		}
	})
	t.Run("depends on each of its parts", func(t *testing.T) {
		for name, other := range map[string][]byte{
			"previous": ledger.Link(inner[:], 258, post),
			"seq":      ledger.Link(previous[:], 259, post),
			"post":     ledger.Link(previous[:], 258, []byte(`[{"kind":"stop"}]`)),
		} {
			if bytes.Equal(other, want[:]) {
				t.Errorf("another %s gives the same link", name)
			}
		}
	})
}

func TestPost(t *testing.T) {
	t.Run("of canonical bodies is canonical", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			var bodies [][]byte
			var plain []any
			for _, text := range rapid.SliceOfN(rapid.String(), 1, 5).Draw(t, "texts") {
				e := commissioning.Entry{Kind: commissioning.KindNote, Text: text, ObservedAt: time.Unix(0, 0).UTC()}
				body, err := ledger.Body(e)
				if err != nil {
					t.Fatal(err)
				}
				bodies, plain = append(bodies, body), append(plain, json.RawMessage(body))
			}
			want, err := ledger.Canonical(plain)
			if err != nil {
				t.Fatal(err)
			}
			if got := ledger.Post(bodies); !bytes.Equal(got, want) {
				t.Fatalf("got %s, want %s", got, want)
			}
		})
	})
}

func TestCanonical(t *testing.T) {
	t.Run("sorts, and writes no spaces", func(t *testing.T) {
		got, err := ledger.Canonical(map[string]any{"b": 1, "a": []string{"<é>"}})
		if err != nil || string(got) != `{"a":["<é>"],"b":1}` {
			t.Errorf("got %s, %v", got, err)
		}
	})
	// RFC 8785 section 3.2.2.3: integers beyond 2^53 are not kept exactly.
	for _, number := range []string{"0.1", "4.50", "1e3", "9007199254740992", "-9007199254740992", "12345678901234567890"} {
		t.Run("refuses the number "+number, func(t *testing.T) {
			if got, err := ledger.Canonical(json.RawMessage(`{"v":` + number + `}`)); err == nil {
				t.Errorf("got %s", got)
			}
		})
	}
	t.Run("keeps the largest integers and decimals in strings", func(t *testing.T) {
		const text = `{"d":"4.50","i":9007199254740991}`
		got, err := ledger.Canonical(json.RawMessage(text))
		if err != nil || string(got) != text {
			t.Errorf("got %s, %v", got, err)
		}
	})
}

func TestBody(t *testing.T) {
	received := time.Unix(1, 0)
	e := commissioning.Entry{Seq: 7, ReceivedAt: &received, Kind: commissioning.KindNote, Text: "x", By: "P-0001"}
	body, err := ledger.Body(e)
	if err != nil {
		t.Fatal(err)
	}
	t.Run("leaves out what the database gives", func(t *testing.T) {
		if strings.Contains(string(body), "seq") || strings.Contains(string(body), "received_at") {
			t.Errorf("got %s", body)
		}
	})
	t.Run("is the same wherever the entry stands", func(t *testing.T) {
		e.Seq, e.ReceivedAt = 8, nil
		if again, err := ledger.Body(e); err != nil || !bytes.Equal(again, body) {
			t.Errorf("got %s, %v", again, err)
		}
	})
	t.Run("tells who recorded it", func(t *testing.T) {
		e.By = "P-0002"
		if other, err := ledger.Body(e); err != nil || bytes.Equal(other, body) {
			t.Errorf("got %s, %v", other, err)
		}
	})
}
