package templates

import (
	"net/url"
	"strconv"

	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// choices are the revisions by their numbers.
func (v HistoryView) choices() []parts.Option {
	var all []parts.Option
	for _, r := range v.Revisions {
		n := strconv.Itoa(r.Revision)
		all = append(all, parts.Option{Value: n, Label: words.Say("Revision %d, %s", r.Revision, r.Standing().words())})
	}
	return all
}

// lastTwo are chosen at first: what changed most recently.
func (v HistoryView) lastTwo() url.Values {
	return url.Values{"from": {strconv.Itoa(v.Revisions[1].Revision)}, "to": {strconv.Itoa(v.Revisions[0].Revision)}}
}
