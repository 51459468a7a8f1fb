package auth_test

import (
	_ "embed"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"settlemark/internal/auth"
)

// The vectors of RFC 6238, appendix B, for all three hashes; we use SHA-1. The
// file names where they were read.
//
//go:embed testdata/rfc6238.json
var rfc6238 []byte

func TestTOTP(t *testing.T) {
	var file struct {
		Digits  int               `json:"digits"`
		Seeds   map[string]string `json:"seeds_ascii"`
		Vectors [][]any           `json:"vectors"`
	}
	if err := json.Unmarshal(rfc6238, &file); err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, vector := range file.Vectors {
		at := time.Unix(int64(vector[0].(float64)), 0)
		for i, name := range []string{"SHA1", "SHA256", "SHA512"} {
			want := vector[2+i].(string)
			if got := auth.TOTP(name, []byte(file.Seeds[name]), auth.Step(at), file.Digits); got != want {
				t.Errorf("%s at %s: got %s, expected %s", name, at.UTC(), got, want)
			}
			checked++
		}
		short := vector[2].(string)[2:] // six digits are the last six of eight
		if got := auth.CodeAt([]byte(file.Seeds["SHA1"]), auth.Step(at)); got != short {
			t.Errorf("six digits at %s: got %s, expected %s", at.UTC(), got, short)
		}
	}
	if checked != 18 {
		t.Errorf("%d of 18 vectors were checked", checked)
	}
}

func TestMatch(t *testing.T) {
	seed, now := auth.NewSeed(), time.Unix(1_767_225_600, 0)
	step := auth.Step(now)
	for name, c := range map[string]struct {
		code  string
		step  int64
		right bool
	}{
		"the code of this step":                     {auth.CodeAt(seed, step), step, true},
		"of the step before, from a clock behind":   {auth.CodeAt(seed, step-1), step - 1, true},
		"of the step after, from a clock ahead":     {auth.CodeAt(seed, step+1), step + 1, true},
		"typed with a gap in the middle":            {" " + auth.CodeAt(seed, step)[:3] + " " + auth.CodeAt(seed, step)[3:], step, true},
		"of two steps before is too old":            {auth.CodeAt(seed, step-2), 0, false},
		"of two steps after is too early":           {auth.CodeAt(seed, step+2), 0, false},
		"of another seed":                           {auth.CodeAt(auth.NewSeed(), step), 0, false},
		"nothing":                                   {"", 0, false},
		"more digits than six, though it ends well": {"1" + auth.CodeAt(seed, step), 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			got, right := auth.Match(seed, c.code, now)
			if right != c.right || got != c.step {
				t.Errorf("got %d, %t", got, right)
			}
		})
	}
}

func TestSeedURL(t *testing.T) {
	got := auth.SeedURL([]byte("12345678901234567890"), "mira.sand@north")
	if want := "otpauth://totp/Settlemark:mira.sand@north?issuer=Settlemark&secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"; got != want {
		t.Errorf("got %s", got)
	}
	if strings.Contains(auth.SeedURL(auth.NewSeed(), "x"), "=&") {
		t.Error("the secret is padded")
	}
}
