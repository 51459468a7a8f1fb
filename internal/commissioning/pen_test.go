package commissioning_test

import (
	"testing"

	"settlemark/internal/commissioning"
)

// What would be read as how the pen went on can't be typed; the same words
// elsewhere are plain words.
func TestOnlyThePenWritesOfThePen(t *testing.T) {
	mate := commissioning.Person{ID: "P-0003", Name: "Mira Sand"}
	const note, fault = commissioning.KindNote, commissioning.KindFault
	feigned := commissioning.Entry{Kind: note, Note: commissioning.HandOverTo(mate)}
	for name, c := range map[string]struct {
		entry   commissioning.Entry
		refused bool
	}{
		"a hand-over":                   {feigned, true},
		"a taking":                      {commissioning.Entry{Kind: note, Note: commissioning.TookPenFrom(mate.Name, mate.ID)}, true},
		"in place of a struck note":     {commissioning.Entry{Kind: commissioning.KindCorrection, Replacement: &feigned}, true},
		"as the text of the note":       {commissioning.Entry{Kind: note, Text: commissioning.HandOverTo(mate)}, false},
		"with more words":               {commissioning.Entry{Kind: note, Note: "She said: " + commissioning.HandOverTo(mate)}, false},
		"as the remark to a fault":      {commissioning.Entry{Kind: fault, Note: commissioning.HandOverTo(mate)}, false},
		"a note with a remark":          {commissioning.Entry{Kind: note, Note: "cup 4"}, false},
		"a correction without an entry": {commissioning.Entry{Kind: commissioning.KindCorrection}, false},
	} {
		if _, to := c.entry.HandedTo(); to != "" && !c.refused {
			t.Errorf("%s is read as a hand-over", name)
		}
		if err := c.entry.NoPen(); (err != nil) != c.refused {
			t.Errorf("%s: %v", name, err)
		}
	}
}
