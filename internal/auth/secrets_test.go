package auth_test

import (
	"bytes"
	"testing"

	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
)

func TestSecrets(t *testing.T) {
	s := authtest.Secrets()
	sealed := s.Seal([]byte("a seed"), "P-0001")
	t.Run("opens what it sealed", func(t *testing.T) {
		if got, err := s.Open(sealed, "P-0001"); err != nil || string(got) != "a seed" {
			t.Errorf("got %q, %v", got, err)
		}
	})
	t.Run("not for another owner, so that rows can't be swapped", func(t *testing.T) {
		if got, err := s.Open(sealed, "P-0002"); err == nil {
			t.Errorf("got %q", got)
		}
	})
	t.Run("not with another key", func(t *testing.T) {
		if got, err := authtest.Secrets().Open(sealed, "P-0001"); err == nil {
			t.Errorf("got %q", got)
		}
	})
	t.Run("not when any byte was changed, nor cut", func(t *testing.T) {
		for i := range sealed {
			changed := bytes.Clone(sealed)
			changed[i] ^= 1
			if got, err := s.Open(changed, "P-0001"); err == nil {
				t.Errorf("byte %d: got %q", i, got)
			}
			if got, err := s.Open(sealed[:i], "P-0001"); err == nil {
				t.Errorf("cut at %d: got %q", i, got)
			}
		}
	})
	t.Run("the same twice is sealed differently", func(t *testing.T) {
		if bytes.Equal(sealed, s.Seal([]byte("a seed"), "P-0001")) {
			t.Error("it repeats")
		}
	})
	t.Run("a damaged key file is refused", func(t *testing.T) {
		for _, text := range []string{"", "not base64!", "c2hvcnQ=", auth.NewSecret()[4:]} {
			if _, err := auth.ReadSecrets(text); err == nil {
				t.Errorf("%q was taken", text)
			}
		}
	})
}
