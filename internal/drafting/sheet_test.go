package drafting_test

import (
	"errors"
	"strconv"
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
)

// shipped gives the text of a procedure that comes with the program.
func shipped(t *testing.T, key string) string {
	t.Helper()
	all, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	for _, yaml := range all {
		if strings.Contains(string(yaml), "\nkey: "+key+"\n") {
			return string(yaml)
		}
	}
	t.Fatalf("no procedure %s is shipped", key)
	return ""
}

func open(t *testing.T, text string) *drafting.Sheet {
	t.Helper()
	s, err := drafting.Open(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// changed does something to the text of the return to service and gives the
// lines that differ, "-" before those that are gone and "+" before new ones.
func changed(t *testing.T, do func(*drafting.Sheet) error) string {
	t.Helper()
	before := shipped(t, "return-to-service")
	s := open(t, before)
	if err := do(s); err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, part := range drafting.Compare(before, s.Text()) {
		for _, l := range part.Lines {
			switch {
			case l.New == 0:
				lines = append(lines, "-"+l.Text)
			case l.Old == 0:
				lines = append(lines, "+"+l.Text)
			}
		}
	}
	return strings.Join(lines, "\n")
}

func TestPut(t *testing.T) {
	words := func(key, text string) drafting.Field { return drafting.Field{Key: key, Value: drafting.Words(text)} }
	figure := func(key, text string) drafting.Field { return drafting.Field{Key: key, Value: drafting.Figure(text)} }
	for name, c := range map[string]struct {
		path  string
		field drafting.Field
		want  string
	}{
		"a_title": {"", words("title", "Back in service"), "-title: Return to service after a flush\n+title: Back in service"},
		"a_title_that_needs_quotes": {
			"", words("title", "Back: in service"),
			"-title: Return to service after a flush\n+title: 'Back: in service'",
		},
		"a_duration_in_brackets": {
			"gates.hold", figure("soak", "45m"),
			"-  hold: {conditions: [ready, viscosity], soak: 60m, fresh_within: 30m}\n+  hold: {conditions: [ready, viscosity], soak: 45m, fresh_within: 30m}",
		},
		"the_last_value_in_brackets": {
			"gates.hold", figure("fresh_within", "20m"),
			"-  hold: {conditions: [ready, viscosity], soak: 60m, fresh_within: 30m}\n+  hold: {conditions: [ready, viscosity], soak: 60m, fresh_within: 20m}",
		},
		"a_number_stays_in_its_quotes": {"quantities.1.target", figure("value", "4.60"), `-    target: {value: "4.50"}` + "\n" + `+    target: {value: "4.60"}`},
		"a_text_with_an_apostrophe": {
			"sections.0.steps.0", words("text", `The "plate" of it`),
			`-      - {id: serial, ask: text, text: "Serial number as it stands on the unit's type plate"}` + "\n" +
				`+      - {id: serial, ask: text, text: "The \"plate\" of it"}`,
		},
		"a_field_more_in_brackets": {
			"sections.0.steps.1",
			drafting.Field{Key: "optional", Value: drafting.Whole("true")},
			`-      - {id: jet-off, ask: confirm, text: "Jet off; nothing moves in the fluid circuit; isolated as the site requires"}` + "\n" +
				`+      - {id: jet-off, ask: confirm, text: "Jet off; nothing moves in the fluid circuit; isolated as the site requires", optional: true}`,
		},
		"a_field_more_on_its_own_line": {"sections.1.steps.1", drafting.Field{Key: "optional", Value: drafting.Whole("true")}, "+        optional: true"},
		"a_field_less_on_its_own_line": {"quantities.1", drafting.Field{Key: "decision"}, "-    decision: simple"},
		"a_field_less_in_brackets": {
			"quantities.0",
			drafting.Field{Key: "max_gap"},
			"-  - {key: temperature, label: Ink temperature, unit: degC, max_gap: 7m}\n+  - {key: temperature, label: Ink temperature, unit: degC}",
		},
		"a_list_with_a_line_for_each": {
			"",
			drafting.Field{Key: "voided_by", Value: drafting.List([]string{"a change of fluid", "work on the head"})},
			"-  - a shutdown of more than 14 days\n-  - work on the fluid circuit or the print head\n+  - work on the head",
		},
		"a_list_in_brackets": {
			"sections.0",
			drafting.Field{Key: "cautions", Value: drafting.List([]string{"flammable"})},
			"-    cautions: [flammable, static, skin_eyes, high_voltage]\n+    cautions: [flammable]",
		},
		"a_mapping_more": {
			"quantities.0",
			drafting.Field{Key: "tolerance", Fields: []drafting.Field{words("lower", "10"), words("upper", "35")}},
			"-  - {key: temperature, label: Ink temperature, unit: degC, max_gap: 7m}\n" +
				`+  - {key: temperature, label: Ink temperature, unit: degC, max_gap: 7m, tolerance: {lower: "10", upper: "35"}}`,
		},
		"another_kind_of_tolerance": {
			"quantities.1",
			drafting.Field{Key: "tolerance", Fields: []drafting.Field{{Key: "percent"}, words("absolute", "0.4")}},
			`-    tolerance: {percent: "10"}` + "\n" + `+    tolerance: {absolute: "0.4"}`,
		},
	} {
		t.Run(name, func(t *testing.T) {
			got := changed(t, func(s *drafting.Sheet) error { return s.Put(c.path, c.field) })
			if got != c.want {
				t.Errorf("got\n%s\nwants\n%s", got, c.want)
			}
		})
	}
	t.Run("comments_beside_a_value_stay", func(t *testing.T) {
		s := open(t, "a: 1 # one\nb:   two   # two # and\nc: {d: 3, # three\n  e: 4}\n")
		for _, f := range []drafting.Field{{Key: "a", Value: drafting.Whole("7")}, {Key: "b", Value: drafting.Words("eight")}, {Key: "c", Fields: []drafting.Field{{Key: "d", Value: drafting.Whole("9")}}}} {
			if err := s.Put("", f); err != nil {
				t.Fatal(err)
			}
		}
		if want := "a: 7 # one\nb:   eight   # two # and\nc: {d: 9, # three\n  e: 4}\n"; s.Text() != want {
			t.Errorf("got\n%s", s.Text())
		}
	})
	t.Run("an_empty_field_is_filled", func(t *testing.T) {
		s := open(t, "title:\nkey: x\n")
		if err := s.Put("", words("title", "Now")); err != nil || s.Text() != "title: Now\nkey: x\n" {
			t.Errorf("%v\n%s", err, s.Text())
		}
	})
	t.Run("what_it_can't_follow_is_refused_and_left_alone", func(t *testing.T) {
		text := "base: &base {a: 1}\nother: *base\nlong: >\n  folded\n\n  # no comment\n"
		s := open(t, text)
		if err := s.Put("", words("long", "short")); !errors.Is(err, drafting.ErrByHand) || s.Text() != text {
			t.Errorf("%v\n%s", err, s.Text())
		}
	})
}

func TestItems(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(*drafting.Sheet) error
		want string
	}{
		"a_line_is_added_at_the_end": {
			func(s *drafting.Sheet) error { return s.Add("sections.0.steps", 5, drafting.Step("new", "New, line")) },
			`+      - {id: new, ask: confirm, text: 'New, line'}`,
		},
		"a_line_is_added_in_front": {
			func(s *drafting.Sheet) error { return s.Add("sections.0.steps", 0, drafting.Step("new", "New line")) },
			`+      - {id: new, ask: confirm, text: New line}`,
		},
		"a_section_is_added": {
			func(s *drafting.Sheet) error {
				return s.Add("sections", 12, drafting.Section("After", "after", "All well"))
			},
			"+  - title: After\n+    steps:\n+      - {id: after, ask: confirm, text: All well}\n+",
		},
		"a_line_is_removed": {
			func(s *drafting.Sheet) error { return s.Remove("sections.1.steps", 1) },
			"-      - id: drain-1\n-        ask: drain\n-        text: \"Storage fluid drained into the waste container; volume read on its scale\"\n-        container: waste\n-        capacity_ml: 1000\n-        fill_at_most_percent: 80",
		},
		"a_section_is_removed": {
			func(s *drafting.Sheet) error { return s.Remove("sections", 7) },
			"-  - title: Settle\n-    steps:\n-      - {id: settle, ask: gate, gate: viscosity, text: \"Viscosity in tolerance, three checks in a row\"}\n-",
		},
	} {
		t.Run(name, func(t *testing.T) {
			got := strings.Join(strings.Split(changed(t, c.do), "\n"), "\n")
			if got != c.want {
				t.Errorf("got\n%s\nwants\n%s", got, c.want)
			}
		})
	}
	t.Run("moving_down_and_up_again_changes_nothing", func(t *testing.T) {
		for _, key := range []string{"return-to-service", "first-commissioning", "change-of-fluid"} {
			text := shipped(t, key)
			s := open(t, text)
			for section := range s.Len("sections") {
				path := "sections." + strconv.Itoa(section) + ".steps"
				for i := range s.Len(path) - 1 {
					id := s.Value(path + "." + strconv.Itoa(i) + ".id")
					if err := s.Move(path, i, true); err != nil {
						t.Fatalf("%s %s %d: %v", key, path, i, err)
					}
					if got := s.Value(path + "." + strconv.Itoa(i+1) + ".id"); got != id {
						t.Errorf("%s %s %d: %s moved down, not %s", key, path, i, got, id)
					}
					if err := s.Move(path, i+1, false); err != nil || s.Text() != text {
						t.Fatalf("%s %s %d up again: %v", key, path, i, err)
					}
				}
			}
			for i := range s.Len("sections") - 1 {
				if s.Move("sections", i, true) != nil || s.Text() == text || s.Move("sections", i+1, false) != nil || s.Text() != text {
					t.Errorf("%s: section %d does not come back", key, i)
				}
			}
		}
	})
	t.Run("a_comment_above_a_line_goes_with_it", func(t *testing.T) {
		s := open(t, "list:\n  - {a: 1}\n  # about two\n  - {a: 2}\n")
		if err := s.Move("list", 1, false); err != nil || s.Text() != "list:\n  # about two\n  - {a: 2}\n  - {a: 1}\n" {
			t.Errorf("%v\n%s", err, s.Text())
		}
	})
	t.Run("the_last_line_stays", func(t *testing.T) {
		s := open(t, "list:\n  - {a: 1}\n")
		if err := s.Remove("list", 0); !errors.Is(err, drafting.ErrByHand) {
			t.Error(err)
		}
	})
}
