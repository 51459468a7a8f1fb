package rules

import (
	"time"

	"settlemark/internal/commissioning"
)

// versions are the rules of every release, so that an old certificate can be
// judged again as it was. None is ever taken out.
var versions = map[int]func(commissioning.Logbook, time.Time) []byte{
	1: func(book commissioning.Logbook, at time.Time) []byte { return Encode(Judge(book, at)) },
}

// EncodeBy gives the assessment as the rules of that version encode it, false
// when this build does not know the version.
func EncodeBy(version int, book commissioning.Logbook, at time.Time) ([]byte, bool) {
	judge, known := versions[version]
	if !known {
		return nil, false
	}
	return judge(book, at), true
}
