package commissioning_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

func TestCheckProcedure(t *testing.T) {
	refusals := func(replacements ...string) []commissioning.Refusal {
		return commissioning.CheckProcedure([]byte(strings.NewReplacer(replacements...).Replace(returnToService)))
	}
	t.Run("a_procedure_that_can_be_judged_has_none", func(t *testing.T) {
		if got := refusals(); len(got) != 0 {
			t.Error(got)
		}
	})
	t.Run("every_part_says_what_is_wrong_with_it_in_the_order_of_the_lines", func(t *testing.T) {
		got := refusals("late_after: 10m", "late_after: soon", "at_most: 2}, {", "at_most: two}, {", "id: read, ask: value", "id: read, ask: valve",
			"id: kind,", "id: jet-off,", "checks: 3", "checks: 0", "soak: 30m", "soak: 0s")
		want := []commissioning.Refusal{
			{Line: 5, Path: "$.late_after", Reason: words.Plain(`expected a duration such as 7m or 1h30m, found "soon"`)},
			{Line: 24, Path: "$.faults.expected[0].at_most", Reason: words.Plain("expected a whole number, found text")},
			{Line: 31, Path: "$.sections[0].steps[1].ask", Reason: words.Plain(`expected one of confirm, value, text, choice, drain, load, photo, start, sample, gate, found "valve"`)},
			{Line: 32, Path: "$.sections[0].steps[2].id", Reason: words.Plain(`expected each id only once, found "jet-off" again`)},
			{Line: 41, Path: "$.gates.viscosity.checks", Reason: words.Plain(`expected a whole number of at least 1, found "0"`)},
			{Line: 42, Path: "$.gates.hold.soak", Reason: words.Plain("expected a duration above zero, found 0s")},
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("what_refers_to_a_quantity_is_not_refused_beside_the_quantity", func(t *testing.T) {
		got := refusals("key: ready, label: Ready state, state: true", "key: ready, label: Ready state, state: yes please")
		if len(got) != 1 || got[0].Path != "$.quantities[3].state" {
			t.Errorf("%+v", got)
		}
	})
	t.Run("the_first_one_is_what_the_loader_says", func(t *testing.T) {
		text := strings.Replace(strings.Replace(returnToService, "checks: 3", "checks: 0", 1), "format: settlemark", "format: cheesemark", 1)
		_, err := commissioning.ParseProcedure([]byte(text))
		first := commissioning.CheckProcedure([]byte(text))[0]
		if err == nil || !strings.HasSuffix(err.Error(), first.Path+": "+first.Reason.String()) {
			t.Errorf("%v, %+v", err, first)
		}
	})
	t.Run("text_that_is_no_YAML_is_refused_on_its_line", func(t *testing.T) {
		got := commissioning.CheckProcedure([]byte("title: x\n\tkey: a\n"))
		if len(got) != 1 || got[0].Line != 2 || got[0].Reason.String() != "expected valid YAML" {
			t.Errorf("%+v", got)
		}
	})
	t.Run("what_a_new_procedure_begins_with_can_be_judged", func(t *testing.T) {
		if got := commissioning.CheckProcedure([]byte(commissioning.BlankProcedure)); len(got) != 0 {
			t.Error(got)
		}
	})
}
