package auth_test

import (
	"context"
	"encoding/hex"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"golang.org/x/crypto/argon2"

	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/problem"
)

func TestVerify(t *testing.T) {
	h := auth.NewHasher(authtest.Secrets())
	phc, err := h.Hash(t.Context(), "three blue kettles")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		phc, password string
		right, fails  bool
	}{
		"the password":                            {phc, "three blue kettles", true, false},
		"another one":                             {phc, "three blue kettle", false, false},
		"nothing":                                 {phc, "", false, false},
		"an account without a password":           {"", "three blue kettles", false, false},
		"an account without one, empty":           {"", "", false, false},
		"a hash with other costs is read so":      {"$argon2id$v=19$m=8,t=1,p=1$MDEyMzQ1Njc4OWFiY2RlZg$" + cheap, "three blue kettles", true, false},
		"a hash from before the key file is read": {"$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$" + plain, "three blue kettles", true, false},
		"a stored hash that is damaged":           {"$argon2id$v=19$m=8$x", "x", false, true},
		"a stored hash of another version":        {strings.Replace(phc, "v=19", "v=16", 1), "x", false, true},
		"a stored hash whose key was cut":         {phc[:len(phc)-8], "x", false, true},
	} {
		t.Run(name, func(t *testing.T) {
			right, err := h.Verify(t.Context(), c.phc, c.password)
			if right != c.right || (err != nil) != c.fails {
				t.Errorf("got %t, %v", right, err)
			}
		})
	}
	t.Run("the same password twice gives two hashes", func(t *testing.T) {
		again, err := h.Hash(t.Context(), "three blue kettles")
		if err != nil || again == phc || !strings.HasPrefix(again, "$argon2id$v=19$m=19456,t=2,p=1,keyid=") {
			t.Errorf("got %s, %v", again, err)
		}
	})
}

func TestPepper(t *testing.T) {
	here, elsewhere := authtest.Secrets(), authtest.Secrets()
	h := auth.NewHasher(here)
	phc, err := h.Hash(t.Context(), "three blue kettles")
	if err != nil {
		t.Fatal(err)
	}
	t.Run("a stolen hash can't be tried without the key file", func(t *testing.T) {
		if right, err := auth.NewHasher(elsewhere).Verify(t.Context(), phc, "three blue kettles"); right || err == nil {
			t.Errorf("got %t, %v", right, err)
		}
		before, after, _ := strings.Cut(phc, ",keyid=")
		bare := before + after[len("01234567"):]
		if right, err := h.Verify(t.Context(), bare, "three blue kettles"); right || err != nil {
			t.Errorf("without the pepper: got %t, %v", right, err)
		}
	})
	t.Run("a hash is stale without pepper or with other costs", func(t *testing.T) {
		for phc, want := range map[string]bool{
			phc: false,
			"$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$" + plain: true,
			strings.Replace(phc, "m=19456", "m=4096", 1):                     true,
			"$argon2id$v=19$m=8,t=1,p=1$MDEyMzQ1Njc4OWFiY2RlZg$" + cheap:     true,
		} {
			if got := h.Stale(phc); got != want {
				t.Errorf("%s: got %t", phc, got)
			}
		}
	})
}

// Made with the library that TestLibrary holds to its vector.
const (
	plain = "KOionDiQWj5VDMhrwKDNknZdUccQZLsNCUimEyTZR8Y"
	cheap = "CatKTKRV9yc5kGJ3hejw4CcEls458Fc4gvEeaoRQPB8"
)

// RFC 9106, 5.3, has a secret and associated data, which we do not use; the
// library's own vector without them (argon2_test.go, id, t=1 m=64 p=1).
func TestLibrary(t *testing.T) {
	got := argon2.IDKey([]byte("password"), []byte("somesalt"), 1, 64, 1, 24)
	if want := "655ad15eac652dc59f7170a7332bf49b8469be1fdb9c28bb"; hex.EncodeToString(got) != want {
		t.Errorf("got %x", got)
	}
}

func TestQueue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := auth.NewHasher(authtest.Secrets())
		h.Occupy()
		_, err := h.Verify(context.Background(), "", "x")
		if problem.KindOf(err) != problem.Busy {
			t.Errorf("got %v, expected Busy when two others hold on", err)
		}
	})
}

func TestAcceptable(t *testing.T) {
	for password, ok := range map[string]bool{
		"three blue kettles":            true,
		"elevenchars":                   false,
		"twelve chars":                  true,
		"ééééééééééèà":                  true, // characters, not bytes
		strings.Repeat("ab c", 32):      true,
		strings.Repeat("ab c", 33):      false,
		"password1234":                  false,
		"PassWord1234":                  false,
		"correct horse battery staple":  false,
		"            ":                  false,
		"abababababababab":              false,
		"mira.sand1234":                 false,
		"mira.sand likes kettles a lot": true,
	} {
		t.Run(password, func(t *testing.T) {
			if err := auth.Acceptable(password, "mira.sand", "Mira Sand"); (err == nil) != ok {
				t.Errorf("got %v", err)
			}
		})
	}
}

func TestCode(t *testing.T) {
	code := auth.NewCode()
	t.Run("is four groups of five", func(t *testing.T) {
		if groups := strings.Split(code, "-"); len(groups) != 4 || len(groups[0]) != 5 || len(groups[3]) != 5 {
			t.Errorf("got %s", code)
		}
	})
	t.Run("is never the same", func(t *testing.T) {
		if auth.NewCode() == code {
			t.Error("twice the same")
		}
	})
	t.Run("is found however it is typed", func(t *testing.T) {
		typed := " " + strings.ToLower(strings.ReplaceAll(code, "-", " ")) + "\n"
		if string(auth.CodeHash(typed)) != string(auth.CodeHash(code)) || string(auth.CodeHash(code[1:])) == string(auth.CodeHash(code)) {
			t.Error("another hash, or the same for another code")
		}
	})
	t.Run("uses every sign about as often", func(t *testing.T) {
		seen := map[rune]int{}
		for range 2000 {
			for _, r := range strings.ReplaceAll(auth.NewCode(), "-", "") {
				seen[r]++
			}
		}
		for r, n := range seen { // 40,000 draws over 22 or 23 signs, about 1,750 each
			if n < 1450 || n > 2150 {
				t.Errorf("%c came %d times", r, n)
			}
		}
	})
}

func TestSeconds(t *testing.T) {
	for wait, want := range map[time.Duration]int{time.Millisecond: 1, time.Second: 1, 1500 * time.Millisecond: 2, time.Minute: 60} {
		if got := auth.Seconds(wait); got != want {
			t.Errorf("%s: got %d", wait, got)
		}
	}
}
