package certificate

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
	"regexp"
	"unicode/utf16"
)

var (
	fileShape  = regexp.MustCompile(`^<< /Type /Filespec /F \(\) /UF \((?s:(.*?))\) /EF << /F (\d{1,4}) 0 R >> /Desc \((?s:..)\)\n>>\n$`)
	embedShape = regexp.MustCompile(`^<< /Type /EmbeddedFile /Length (\d{1,8}) /Filter /FlateDecode /Params << /CheckSum <[0-9a-f]{32}> /Size (\d{1,8}) >> >>\n\nstream\n`)
)

var errNoAttachment = errors.New("no attachment")

// attachment unpacks the one attachment of that name.
func (f file) attachment(name string) ([]byte, error) {
	stream := 0
	for _, o := range f.objects {
		file := fileShape.FindSubmatch(o)
		if file == nil || fromText(file[1]) != name {
			continue
		}
		if stream != 0 {
			return nil, notOurs("two attachments %s", name)
		}
		stream = whole(file[2])
	}
	if stream == 0 || stream >= len(f.objects) {
		return nil, fmt.Errorf("%w: %w %s", ErrNotOurs, errNoAttachment, name)
	}
	o := f.objects[stream]
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

// attached counts the attachments.
func (f file) attached() int {
	count := 0
	for _, o := range f.objects {
		if bytes.HasPrefix(o, []byte("<< /Type /Filespec")) {
			count++
		}
	}
	return count
}

var (
	titleShape  = regexp.MustCompile(`\n/Title \((?s:(.*?))\)\n/Subject `)
	numberShape = regexp.MustCompile(`^\p{Lu}\p{L}+ ([A-Z]-\d{1,10}), \p{L}+ `) // in every language
)

// number takes the number out of the title of the document.
func (f file) number() (string, error) {
	title := titleShape.FindSubmatch(f.objects[f.root-1])
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
