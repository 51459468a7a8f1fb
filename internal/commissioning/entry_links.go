package commissioning

import "settlemark/internal/words"

// links knows what an entry may say of other entries: which seq carries what,
// and what is struck.
type links struct {
	standing map[int]*Entry // by seq; a correction stands for its replacement, nil without one
	struck   map[int]bool
}

// read adds one entry in seq order and says what is wrong with what it strikes:
// the field and what was expected, none when nothing is.
func (l *links) read(e *Entry) (field string, expected words.Text) {
	if e.Kind != KindCorrection {
		l.standing[e.Seq] = e
		return "", words.Text{}
	}
	l.standing[e.Seq] = e.Replacement
	target, known := l.standing[e.Strikes]
	switch {
	case !known || e.Strikes >= e.Seq:
		return "strikes", words.Say("expected the seq of an earlier entry")
	case target == nil:
		return "strikes", words.Say("expected an entry that can be struck, found a correction without a replacement")
	case l.struck[e.Strikes]:
		return "strikes", words.Say("expected an entry that is not struck already")
	}
	l.struck[e.Strikes] = true
	return "", words.Text{}
}

// check says what is wrong with the ref of an entry or of its replacement.
func (l *links) check(e *Entry) (field string, expected words.Text) {
	body, field := e, "ref"
	if e.Kind == KindCorrection {
		body, field = e.Replacement, "replacement.ref"
	}
	if body == nil || body.Kind != KindFaultCleared && body.Kind != KindDisposition {
		return "", words.Text{}
	}
	target, known := l.standing[body.Ref]
	switch {
	case !known:
		return field, words.Say("expected the seq of an entry of this logbook")
	case body.Ref == e.Seq:
		return field, words.Say("expected the seq of another entry")
	case body.Kind == KindFaultCleared && (target == nil || target.Kind != KindFault):
		return field, words.Say("expected the seq of a fault")
	}
	return "", words.Text{}
}

// linksOf reads entries that were checked before.
func linksOf(entries []Entry) *links {
	l := &links{standing: make(map[int]*Entry, len(entries)), struck: map[int]bool{}}
	for i := range entries {
		l.read(&entries[i])
	}
	return l
}

// Admits says whether an entry may follow the entries of the logbook: what it
// clears, rules on or strikes must be there. It returns an invalid problem on
// the field that is wrong.
func (b Logbook) Admits(e Entry) error {
	l := linksOf(b.Entries)
	e.Seq = len(b.Entries) + 1
	field, expected := l.read(&e)
	if expected.Empty() {
		field, expected = l.check(&e)
	}
	if expected.Empty() {
		return nil
	}
	n := &node{}
	return n.refuse("$."+field, "%s", expected)
}
