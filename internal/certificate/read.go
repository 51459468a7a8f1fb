package certificate

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
)

// Contents is what a certificate file carries, byte for byte.
type Contents struct {
	Number     string
	Logbook    []byte
	Assessment []byte
	Record     []byte // the document, canonical; nil in a file that was made without it
	Proof      []byte // nil in a file that was made without it
	Signed     bool
}

// ErrNotOurs is why a file is not read: it is no certificate that Render made
// and Sign signed.
var ErrNotOurs = errors.New("not a certificate of ours, or altered")

func notOurs(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrNotOurs, fmt.Sprintf(format, args...))
}

// Read takes number and evidence out of a file that Render made, and Sign
// signed or not, and refuses any other. It is no PDF parser: it follows the one
// layout that they write, from the last byte to the first, each object where
// its table says, and nothing before, between or after them. It follows no
// reference from object to object, so nothing in a file can make it run on.
// It proves nothing: Verify does.
func Read(pdf []byte) (Contents, error) {
	f, err := part(pdf)
	if err != nil {
		return Contents{}, err
	}
	return f.contents()
}

func (f file) contents() (c Contents, err error) {
	c.Signed = f.seal != nil
	if c.Number, err = f.number(); err != nil {
		return Contents{}, err
	}
	for name, into := range map[string]*[]byte{LogbookName: &c.Logbook, AssessmentName: &c.Assessment} {
		if *into, err = f.attachment(name); err != nil {
			return Contents{}, err
		}
	}
	for name, into := range map[string]*[]byte{RecordName: &c.Record, ProofName: &c.Proof} {
		if *into, err = f.attachment(name); err != nil && !errors.Is(err, errNoAttachment) {
			return Contents{}, err
		}
	}
	return c, nil
}

// file is a certificate file in its parts; nothing is unpacked yet.
type file struct {
	objects [][]byte // of what Render wrote, by number
	root    int      // the catalog; before it stands what the document is called
	seal    *seal    // nil when it is not signed
}

// part cuts a file along the layout that Render and Sign write.
func part(pdf []byte) (file, error) {
	if len(pdf) > mostBytes {
		return file{}, notOurs("larger than %d MB", mostBytes>>20)
	}
	unsigned, update, err := splitUpdate(pdf)
	if err != nil {
		return file{}, err
	}
	f := file{}
	if f.objects, f.root, err = readObjects(unsigned); err != nil || update == nil {
		return f, err
	}
	f.seal, err = f.readSeal(pdf, unsigned, update)
	return f, err
}

var (
	tailShape = regexp.MustCompile(`\ntrailer\n<<\n/Size (\d{1,4})\n/Root (\d{1,4}) 0 R\n/Info (\d{1,4}) 0 R\n>>\nstartxref\n(\d{1,8})\n%%EOF\n$`)
	rowShape  = regexp.MustCompile(`^(\d{10}) 00000 n $`)
)

// permitShape is the object behind the catalog of a file that is to be signed:
// the signature says what may be changed.
const permitShape = "<< /DocMDP %d 0 R >>\n"

// readObjects cuts the file into its objects, by number.
func readObjects(pdf []byte) (objects [][]byte, root int, err error) {
	if !bytes.HasPrefix(pdf, []byte(version+"\n")) {
		return nil, 0, notOurs("beginning")
	}
	tail := tailShape.FindSubmatch(pdf[max(0, len(pdf)-200):])
	if tail == nil {
		return nil, 0, notOurs("end of file")
	}
	size, table := whole(tail[1]), whole(tail[4])
	root = whole(tail[2])
	if size < 4 || size > mostObjects || table >= len(pdf) || root < size-2 || root >= size || whole(tail[3]) != root-1 {
		return nil, 0, notOurs("trailer")
	}
	head := fmt.Sprintf("xref\n0 %d\n0000000000 65535 f \n", size)
	rows, ok := bytes.CutPrefix(pdf[table:], []byte(head))
	if !ok || len(pdf)-table != len(head)+20*(size-1)+len(tail[0])-1 {
		return nil, 0, notOurs("cross-reference table")
	}
	offsets := make([]int, size)
	for n := 1; n < size; n++ {
		row := rowShape.FindSubmatch(rows[20*(n-1) : 20*n-1])
		if row == nil {
			return nil, 0, notOurs("place of object %d", n)
		}
		offsets[n] = whole(row[1])
	}
	if objects, err = cutObjects(pdf, offsets, table); err != nil {
		return nil, 0, err
	}
	if root == size-2 && string(objects[size-1]) != fmt.Sprintf(permitShape, size+1) {
		return nil, 0, notOurs("what the signature permits")
	}
	return objects, root, nil
}

// cutObjects follows the objects in the order in which they lie and wants them
// to cover the file without a gap.
func cutObjects(pdf []byte, offsets []int, table int) ([][]byte, error) {
	byPlace := map[int]int{}
	for n, at := range offsets[1:] {
		byPlace[at] = n + 1
	}
	objects := make([][]byte, len(offsets))
	at := len(version) + 1
	for range offsets[1:] {
		n, ok := byPlace[at]
		if !ok || objects[n] != nil {
			return nil, notOurs("nothing begins at byte %d", at)
		}
		body, ok := bytes.CutPrefix(pdf[at:table], []byte(fmt.Sprintf("%d 0 obj\n", n)))
		if !ok {
			return nil, notOurs("object %d", n)
		}
		end, err := objectEnd(body)
		if err != nil {
			return nil, notOurs("object %d: %v", n, err)
		}
		objects[n] = body[:end]
		at = table - len(body) + end + len(objectMark)
	}
	if at != table {
		return nil, notOurs("bytes between the objects")
	}
	return objects, nil
}

// tableOf gives the place of the table of a part that readObjects took.
func tableOf(unsigned []byte) int {
	return whole(tailShape.FindSubmatch(unsigned[max(0, len(unsigned)-200):])[4])
}

const objectMark = "endobj\n"

var (
	lengthShape = regexp.MustCompile(`/Length (\d{1,8})[^\d]`)
	streamMark  = []byte("\nstream\n")
	errNoEnd    = errors.New("no end")
)

// objectEnd finds where an object ends; bytes of a stream are stepped over by
// their length, so that what they hold cannot look like an end.
func objectEnd(body []byte) (int, error) {
	end := bytes.Index(body, []byte(objectMark))
	stream := bytes.Index(body, streamMark)
	if stream < 0 || end >= 0 && end < stream {
		if end < 0 {
			return 0, errNoEnd
		}
		return end, nil
	}
	length := lengthShape.FindSubmatch(body[:stream+1])
	if length == nil {
		return 0, errNoEnd
	}
	skip := stream + len(streamMark) + whole(length[1])
	if skip > len(body) || !bytes.HasPrefix(body[skip:], []byte("\nendstream\n"+objectMark)) {
		return 0, errNoEnd
	}
	return skip + len("\nendstream\n"), nil
}

func whole(digits []byte) int {
	n, err := strconv.Atoi(string(digits))
	if err != nil {
		return 0
	}
	return n
}
