package certificate

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"unicode/utf16"
)

// Contents is what a certificate file carries.
type Contents struct {
	Number     string
	Logbook    []byte // logbook.json, byte for byte
	Assessment []byte // assessment.json, byte for byte
}

// Bounds of a file that is read at all. A logger that reports four values a
// second apart fills some 3 MB of logbook in an hour.
const (
	mostBytes    = 20 << 20
	mostObjects  = 400
	mostUnpacked = 16 << 20
)

// ErrNotOurs is why a file is not read: it is no certificate that Render made.
var ErrNotOurs = errors.New("not a certificate of ours, or altered")

func notOurs(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrNotOurs, fmt.Sprintf(format, args...))
}

// Read takes number and evidence out of a file that Render made, and refuses
// any other. It is no PDF parser: it follows the one layout that Render writes,
// from the last byte to the first, each object where its table says, and
// nothing before, between or after them.
func Read(pdf []byte) (Contents, error) {
	objects, err := readObjects(pdf)
	if err != nil {
		return Contents{}, err
	}
	var c Contents
	if c.Number, err = readNumber(objects); err != nil {
		return Contents{}, err
	}
	for name, into := range map[string]*[]byte{LogbookName: &c.Logbook, AssessmentName: &c.Assessment} {
		if *into, err = readAttachment(objects, name); err != nil {
			return Contents{}, err
		}
	}
	return c, nil
}

var (
	tailShape = regexp.MustCompile(`\ntrailer\n<<\n/Size (\d{1,4})\n/Root (\d{1,4}) 0 R\n/Info (\d{1,4}) 0 R\n>>\nstartxref\n(\d{1,8})\n%%EOF\n$`)
	rowShape  = regexp.MustCompile(`^(\d{10}) 00000 n $`)
)

// readObjects cuts the file into its objects, by number.
func readObjects(pdf []byte) ([][]byte, error) {
	if len(pdf) > mostBytes || !bytes.HasPrefix(pdf, []byte(version+"\n")) {
		return nil, notOurs("size or beginning")
	}
	tail := tailShape.FindSubmatch(pdf[max(0, len(pdf)-200):])
	if tail == nil {
		return nil, notOurs("end of file")
	}
	size, table := whole(tail[1]), whole(tail[4])
	if size < 2 || size > mostObjects || table >= len(pdf) || whole(tail[2]) != size-1 || whole(tail[3]) != size-2 {
		return nil, notOurs("trailer")
	}
	head := fmt.Sprintf("xref\n0 %d\n0000000000 65535 f \n", size)
	rows, ok := bytes.CutPrefix(pdf[table:], []byte(head))
	if !ok || len(pdf)-table != len(head)+20*(size-1)+len(tail[0])-1 {
		return nil, notOurs("cross-reference table")
	}
	offsets := make([]int, size)
	for n := 1; n < size; n++ {
		row := rowShape.FindSubmatch(rows[20*(n-1) : 20*n-1])
		if row == nil {
			return nil, notOurs("place of object %d", n)
		}
		offsets[n] = whole(row[1])
	}
	return cutObjects(pdf, offsets, table)
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

var (
	fileShape  = regexp.MustCompile(`^<< /Type /Filespec /F \(\) /UF \((?s:(.*?))\) /EF << /F (\d{1,4}) 0 R >> /Desc \((?s:..)\)\n>>\n$`)
	embedShape = regexp.MustCompile(`^<< /Type /EmbeddedFile /Length (\d{1,8}) /Filter /FlateDecode /Params << /CheckSum <[0-9a-f]{32}> /Size (\d{1,8}) >> >>\n\nstream\n`)
)

// readAttachment unpacks the one attachment of that name.
func readAttachment(objects [][]byte, name string) ([]byte, error) {
	stream := 0
	for _, o := range objects {
		file := fileShape.FindSubmatch(o)
		if file == nil || fromText(file[1]) != name {
			continue
		}
		if stream != 0 {
			return nil, notOurs("two attachments %s", name)
		}
		stream = whole(file[2])
	}
	if stream == 0 || stream >= len(objects) {
		return nil, notOurs("no attachment %s", name)
	}
	o := objects[stream]
	at := embedShape.FindSubmatchIndex(o)
	if at == nil {
		return nil, notOurs("attachment %s", name)
	}
	length, size := whole(o[at[2]:at[3]]), whole(o[at[4]:at[5]])
	packed := o[at[1]:]
	if size > mostUnpacked || length > len(packed) {
		return nil, notOurs("size of %s", name)
	}
	r, err := zlib.NewReader(bytes.NewReader(packed[:length]))
	if err != nil {
		return nil, notOurs("attachment %s: %v", name, err)
	}
	out, err := io.ReadAll(io.LimitReader(r, int64(size)+1))
	if err != nil || len(out) != size {
		return nil, notOurs("attachment %s does not unpack to its size", name)
	}
	return out, nil
}

var (
	titleShape  = regexp.MustCompile(`\n/Title \((?s:(.*?))\)\n/Subject `)
	numberShape = regexp.MustCompile(`^Certificate ([A-Z]-\d{1,10}), unit `)
)

// readNumber takes the number out of the title of the document.
func readNumber(objects [][]byte) (string, error) {
	title := titleShape.FindSubmatch(objects[len(objects)-2])
	if title == nil {
		return "", notOurs("no title")
	}
	number := numberShape.FindStringSubmatch(fromText(title[1]))
	if number == nil {
		return "", notOurs("no number in the title")
	}
	return number[1], nil
}

// fromText reads a text string as the library writes it: UTF-16 with its mark,
// brackets and backslashes escaped.
func fromText(raw []byte) string {
	var plain []byte
	for i := 0; i < len(raw); i++ {
		if raw[i] == '\\' && i+1 < len(raw) {
			i++
			if raw[i] == 'r' {
				plain = append(plain, '\r')
				continue
			}
		}
		plain = append(plain, raw[i])
	}
	rest, ok := bytes.CutPrefix(plain, []byte{0xFE, 0xFF})
	if !ok || len(rest)%2 != 0 {
		return ""
	}
	codes := make([]uint16, 0, len(rest)/2)
	for i := 0; i+1 < len(rest); i += 2 {
		codes = append(codes, uint16(rest[i])<<8|uint16(rest[i+1]))
	}
	return string(utf16.Decode(codes))
}
