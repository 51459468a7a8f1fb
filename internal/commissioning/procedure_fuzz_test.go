package commissioning_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/commissioning"
)

// FuzzParseProcedure reads anything: a refusal is one line, and what is taken
// reads as the same again from its canonical form, which is YAML, too.
func FuzzParseProcedure(f *testing.F) {
	f.Add([]byte(returnToService))
	shipped, err := commissioning.ShippedProcedures()
	if err != nil {
		f.Fatal(err)
	}
	for _, yaml := range shipped {
		f.Add(yaml)
	}
	f.Fuzz(func(t *testing.T, yaml []byte) {
		p, err := commissioning.ParseProcedure(yaml)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\r\n") {
				t.Fatalf("%q is not one line", err)
			}
			return
		}
		canonical, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		again, err := commissioning.ParseProcedure(canonical)
		if err != nil {
			t.Fatalf("%v\n%s", err, canonical)
		}
		if diff := cmp.Diff(p, again); diff != "" {
			t.Fatal(diff)
		}
	})
}
