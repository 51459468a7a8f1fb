package ledger

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
)

// statusFormat is the first line of a status list. No log has it as its origin,
// so a list is never taken for a checkpoint nor the other way round.
const statusFormat = "status/1"

// maxStatusList bounds a signed list; a line has about sixty bytes.
const maxStatusList = 16 << 20

// StatusList names every certificate that is superseded or withdrawn, for who
// checks a certificate without asking the server. One that is plainly valid or
// only past its time has no line: its end stands in the certificate. It is a
// signed note:
//
//	status/1
//	ORIGIN of the log, whose key signs
//	NUMBER of the list; a later list has a higher one
//	ISSUED
//	NEXT UPDATE, after which the list is too old to rely on
//	LOG SIZE: every status leaf of the log below it has its line
//	C-0003 withdrawn 2026-11-20T10:12:00.000000Z event-repair
type StatusList struct {
	Origin     string
	Number     int64
	Issued     time.Time
	NextUpdate time.Time
	LogSize    int64
	Lines      []StatusLine // by certificate number, each once
}

// StatusLine is one certificate that no longer stands.
type StatusLine struct {
	Number string // "C-0003"
	Status string // superseded, withdrawn
	At     time.Time
	Reason string // a code: newer-release, quality, recall, or event-KIND
}

var statusLine = regexp.MustCompile(`^(C-[0-9]{4,18}) (superseded|withdrawn) (\S+) ([a-z][a-z-]{0,39})$`)

// Text is what the log's key signs.
func (l StatusList) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n%d\n%s\n%s\n%d\n", statusFormat, l.Origin, l.Number, Instant(l.Issued), Instant(l.NextUpdate), l.LogSize)
	for _, line := range l.Lines {
		fmt.Fprintf(&b, "%s %s %s %s\n", line.Number, line.Status, Instant(line.At), line.Reason)
	}
	return b.String()
}

// SignStatusList signs with every key: two while one key follows another.
func SignStatusList(l StatusList, signers ...note.Signer) ([]byte, error) {
	return note.Sign(&note.Note{Text: l.Text()}, signers...)
}

// ReadStatusList reads a signed list that a log of the policy signed under its
// own origin. It asks for no witness: witnesses see checkpoints. A list that is
// not written exactly as Text writes it is refused.
func ReadStatusList(signed []byte, p Policy) (StatusList, error) {
	n, err := openNote(signed, p, maxStatusList)
	if err != nil {
		return StatusList{}, fmt.Errorf("status list: %w", err)
	}
	l, err := readStatusText(n.Text)
	if err != nil {
		return StatusList{}, fmt.Errorf("status list: %w", err)
	}
	if !p.signedByLog(n, l.Origin) {
		return StatusList{}, fmt.Errorf("status list: no key of the policy signed for %s", l.Origin)
	}
	return l, nil
}

func readStatusText(text string) (l StatusList, err error) {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if len(lines) < 6 || lines[0] != statusFormat {
		return l, errors.New("not format, origin, number, two instants and log size")
	}
	l.Origin = lines[1]
	var wrong [4]error
	l.Number, wrong[0] = number(lines[2])
	l.Issued, wrong[1] = readInstant(lines[3])
	l.NextUpdate, wrong[2] = readInstant(lines[4])
	l.LogSize, wrong[3] = number(lines[5])
	for _, text := range lines[6:] {
		line, err := readStatusLine(text)
		if err != nil {
			return l, err
		}
		l.Lines = append(l.Lines, line)
	}
	if err := errors.Join(wrong[:]...); err != nil {
		return l, err
	}
	return l, l.sound()
}

// sound says what a list must hold that its form alone does not show.
func (l StatusList) sound() error {
	if l.Origin == "" || !l.NextUpdate.After(l.Issued) {
		return errors.New("no origin, or its next update is not after its issue")
	}
	for i := 1; i < len(l.Lines); i++ {
		if CompareNumbers(l.Lines[i-1].Number, l.Lines[i].Number) >= 0 {
			return fmt.Errorf("%s does not follow %s", l.Lines[i].Number, l.Lines[i-1].Number)
		}
	}
	return nil
}

func readStatusLine(text string) (StatusLine, error) {
	m := statusLine.FindStringSubmatch(text)
	if m == nil {
		return StatusLine{}, fmt.Errorf("%q is no status line", text)
	}
	at, err := readInstant(m[3])
	return StatusLine{Number: m[1], Status: m[2], At: at, Reason: m[4]}, err
}

func readInstant(text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || Instant(at) != text {
		return time.Time{}, fmt.Errorf("%q is no instant", text)
	}
	return at.UTC(), nil
}

// CompareNumbers orders certificate numbers as they were given: C-9999 before
// C-10000.
func CompareNumbers(a, b string) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b))
}

// Of gives the line of a certificate; false when the list has none.
func (l StatusList) Of(number string) (StatusLine, bool) {
	for _, line := range l.Lines {
		if line.Number == number {
			return line, true
		}
	}
	return StatusLine{}, false
}

// Omits says whether the list leaves out what the log's leaf at this index says
// of a certificate, so that one who holds the log finds a list that hides a
// withdrawal. Leaves of other types, and those that came after the list, are
// not omitted. A withdrawn certificate may be superseded as well; its one line
// says withdrawn.
func (l StatusList) Omits(index int64, leaf []byte) (bool, error) {
	var said struct{ T, Number, Status, At string }
	if err := json.Unmarshal(leaf, &said); err != nil {
		return false, fmt.Errorf("leaf %s: %w", strconv.FormatInt(index, 10), err)
	}
	if said.T != statusFormat || index >= l.LogSize {
		return false, nil
	}
	line, listed := l.Of(said.Number)
	if !listed {
		return true, nil
	}
	if said.Status == "superseded" && line.Status == "withdrawn" {
		return false, nil
	}
	return line.Status != said.Status || Instant(line.At) != said.At, nil
}
