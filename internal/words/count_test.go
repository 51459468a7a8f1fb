package words_test

import (
	"testing"

	"settlemark/internal/words"
)

func TestCount(t *testing.T) {
	for _, c := range []struct {
		n    int
		noun string
		want string
	}{
		{0, "check", "0 checks"}, {1, "check", "1 check"}, {2, "check", "2 checks"}, {1, "entry", "1 entry"}, {3, "entry", "3 entries"},
	} {
		if got := words.Count(c.n, c.noun); got != c.want {
			t.Errorf("%d %s: %q, wants %q", c.n, c.noun, got, c.want)
		}
	}
}
