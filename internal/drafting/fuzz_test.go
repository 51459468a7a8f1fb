package drafting_test

import (
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
)

// Whatever a form does to whatever text, nothing panics, in here or in the
// loader, and a change that is refused changes nothing.
func FuzzForm(f *testing.F) {
	all, err := commissioning.ShippedProcedures()
	if err != nil {
		f.Fatal(err)
	}
	for i, path := range []string{"", "sections.0.steps.1", "quantities.1.target"} {
		f.Add(string(all[i]), path, "text", "a: \"b'", uint8(i))
	}
	f.Add("a: {b: [c, 'd'], e: \"f\"} # g\nh:\n  - {i: j}\n  # k\n  - l\n", "h", "b", "#{", uint8(3))
	f.Add("a: |\n  # b\nc: >-\n  d\n", "", "a", "x", uint8(0))
	f.Add("\uFEFFä: ö\u2028ü: {\"x\\\"\": 'y'''}\n", "ü", "x\"", "", uint8(1))
	f.Fuzz(func(t *testing.T, text, path, key, value string, how uint8) {
		if len(text) > 8<<10 {
			return
		}
		s, err := drafting.Open(text)
		if err != nil {
			return
		}
		s.Excerpt(path)
		index := int(how >> 3)
		switch how % 8 {
		case 0:
			err = s.Put(path, drafting.Field{Key: key, Value: drafting.Words(value)})
		case 1:
			err = s.Put(path, drafting.Field{Key: key, Value: drafting.Figure(value)})
		case 2:
			err = s.Put(path, drafting.Field{Key: key})
		case 3:
			err = s.Put(path, drafting.Field{Key: key, Value: drafting.List([]string{value, "x"})})
		case 4:
			err = s.Add(path, index, drafting.Step(key, value))
		case 5:
			err = s.Add(path, index, drafting.Section(key, "x", value))
		case 6:
			err = s.Remove(path, index)
		case 7:
			err = s.Move(path, index, value != "")
		}
		if err != nil && s.Text() != text {
			t.Errorf("refused, and yet the text changed to %q", s.Text())
		}
		commissioning.CheckProcedure([]byte(s.Text()))
	})
}

func FuzzCompare(f *testing.F) {
	f.Add("a\nb\n", "a\nc")
	f.Add("", "@@ -1 +1 @@\n-x\n+++ y\n")
	f.Fuzz(func(t *testing.T, before, after string) {
		for _, part := range drafting.Compare(before, after) {
			for _, l := range part.Lines {
				if l.Old == 0 && l.New == 0 {
					t.Errorf("a line of neither text: %+v", l)
				}
			}
		}
	})
}
