package drafting_test

import (
	"fmt"
	"strings"
	"testing"

	"settlemark/internal/drafting"
)

func TestCompare(t *testing.T) {
	say := func(before, after string) string {
		var out strings.Builder
		for i, part := range drafting.Compare(before, after) {
			for _, l := range part.Lines {
				fmt.Fprintf(&out, "%d: %d %d %s\n", i, l.Old, l.New, l.Text)
			}
		}
		return out.String()
	}
	t.Run("the_same_text_gives_nothing", func(t *testing.T) {
		if got := say("a\nb\n", "a\nb\n"); got != "" {
			t.Error(got)
		}
	})
	t.Run("lines_carry_the_numbers_of_both_texts", func(t *testing.T) {
		want := "0: 1 1 a\n0: 2 0 b\n0: 0 2 -- B\n0: 0 3 \n0: 3 4 c\n"
		if got := say("a\nb\nc\n", "a\n-- B\n\nc\n"); got != want {
			t.Errorf("got\n%s", got)
		}
	})
	t.Run("far_changes_are_parts_of_their_own", func(t *testing.T) {
		before := "one\na\nb\nc\nd\ne\nf\ng\nh\ni\ntwo\n"
		after := strings.Replace(strings.Replace(before, "one", "1", 1), "two", "2", 1)
		if got := len(drafting.Compare(before, after)); got != 2 {
			t.Errorf("%d parts", got)
		}
	})
	t.Run("a_text_without_a_last_line_break", func(t *testing.T) {
		if got := say("a", "a\nb"); got != "0: 1 1 a\n0: 0 2 b\n" && got != "0: 1 0 a\n0: 0 1 a\n0: 0 2 b\n" {
			t.Errorf("got\n%s", got)
		}
	})
}
