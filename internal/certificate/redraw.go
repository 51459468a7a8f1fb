package certificate

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"regexp"
)

// renderer draws a document with its record and proof attached.
type renderer func(doc Document, record []byte, prints []print, proof []byte) ([]byte, error)

// renderers are those of every release, so that an old page can be drawn again
// as it was. None is ever taken out. The second differs from the first in what
// is attached only.
var renderers = map[int]renderer{1: drawDocument, 2: drawDocument, 3: drawDocument}

// page draws the document again, by the renderer that it names, and compares:
// what is printed can't differ from the data. The photos on it are taken from
// the file, and held against the hashes of the stored photos in the record.
func (i *inspection) page() (text string, err error) {
	defer func() {
		if broke := recover(); broke != nil { // in the PDF library, over what the log vouches for
			text, err = "", fmt.Errorf("the record can't be drawn: %v", broke)
		}
	}()
	again, known := renderers[i.doc.Renderer]
	if !known {
		return "", cannot("page not redrawn: this build has no renderer %d", i.doc.Renderer)
	}
	prints, err := i.parts.prints(i.doc)
	if err != nil {
		return "", err
	}
	pdf, err := again(i.doc, i.inside.Record, prints, i.inside.Proof)
	if err != nil {
		return "", fmt.Errorf("the record can't be drawn: %w", err)
	}
	drawn, err := part(pdf)
	if err != nil {
		return "", fmt.Errorf("drawn again: %w", err)
	}
	if len(drawn.objects) != len(i.parts.objects) || drawn.root != i.parts.root {
		return "", errors.New("drawn again from the record it has other parts")
	}
	for n, o := range i.parts.objects {
		if !sameObject(o, drawn.objects[n]) {
			return "", fmt.Errorf("the page is not what the record says: object %d", n)
		}
	}
	return fmt.Sprintf("drawn again from the record by renderer %d, the same to the last stroke", i.doc.Renderer) + held(prints), nil
}

// held says what holds the photos of a page.
func held(prints []print) string {
	own := 0
	for _, p := range prints {
		if p.stored() {
			own++
		}
	}
	switch {
	case len(prints) == 0:
		return ""
	case own == len(prints):
		return "; its photos are the stored ones that the record names"
	}
	return fmt.Sprintf("; %d of its %d photos are the stored ones that the record names, the others were made smaller: the site's signature alone holds those", own, len(prints))
}

// stored says whether the print is the photo of that hash itself, but for columns
// that were left out at its right edge.
func (p print) stored() bool {
	for w := p.width; w <= (p.width+7)/8*8; w++ {
		jpg, ok := narrowed(p.jpeg, p.width, w)
		if sum := sha256.Sum256(jpg); ok && hex.EncodeToString(sum[:]) == p.name {
			return true
		}
	}
	return false
}

var (
	pageShape  = regexp.MustCompile(`^<</Type /Page\n(?s:.*)/Contents (\d{1,4}) 0 R>>\n$`)
	drawShape  = regexp.MustCompile(`/I([0-9a-f]{1,64}) Do`)
	placeShape = regexp.MustCompile(`/I([0-9a-f]{1,64}) (\d{1,4}) 0 R\n`)
	imageShape = regexp.MustCompile(`^<</Type /XObject\n/Subtype /Image\n(?s:.{1,120})/Filter /DCTDecode\n/Length \d{1,8}>>\nstream\n`)
)

// prints takes the photos out of the file, in the order in which they are drawn.
func (f file) prints(doc Document) ([]print, error) {
	places := map[string]int{}
	for _, m := range placeShape.FindAllSubmatch(f.objects[2], -1) {
		places[string(m[1])] = whole(m[2])
	}
	var out []print
	for _, o := range f.objects {
		at := pageShape.FindSubmatch(o)
		if at == nil || whole(at[1]) >= len(f.objects) {
			continue
		}
		_, drawing, err := unpack(f.objects[whole(at[1])])
		if err != nil {
			return nil, err
		}
		for _, m := range drawShape.FindAllSubmatch(drawing, -1) {
			p, err := f.print(places[string(m[1])])
			if err != nil || len(out) == len(doc.Pictures) {
				return nil, errors.New("there are other photos on it than the record names")
			}
			p.name = doc.Pictures[len(out)].SHA256
			out = append(out, p)
		}
	}
	if len(out) != len(doc.Pictures) {
		return nil, errors.New("photos that the record names are missing")
	}
	return out, nil
}

func (f file) print(n int) (print, error) {
	if n <= 0 || n >= len(f.objects) {
		return print{}, errStream
	}
	at := imageShape.FindIndex(f.objects[n])
	if at == nil {
		return print{}, errStream
	}
	jpg := bytes.TrimSuffix(f.objects[n][at[1]:], []byte(streamEnd))
	size, err := jpeg.DecodeConfig(bytes.NewReader(jpg))
	return print{jpeg: jpg, width: size.Width, height: size.Height}, err
}

const streamEnd = "\nendstream\n"

var errStream = errors.New("a stream that can't be read")

// sameObject compares two objects by what they say: a later compressor may
// pack the same stream into other bytes.
func sameObject(a, b []byte) bool {
	if bytes.Equal(a, b) {
		return true
	}
	aHead, aSays, err := unpack(a)
	if err != nil {
		return false
	}
	bHead, bSays, err := unpack(b)
	return err == nil && bytes.Equal(aHead, bHead) && bytes.Equal(aSays, bSays)
}

// unpack parts an object into what stands before its stream, the packed length
// left out, and the stream unpacked.
func unpack(object []byte) (head, says []byte, err error) {
	head, packed, isStream := bytes.Cut(object, []byte("stream\n"))
	if !isStream || !bytes.Contains(head, []byte("/FlateDecode")) {
		return object, nil, nil
	}
	r, err := zlib.NewReader(bytes.NewReader(bytes.TrimSuffix(packed, []byte(streamEnd))))
	if err != nil {
		return nil, nil, errStream
	}
	most := int64(mostPage)
	if bytes.Contains(head, []byte("/EmbeddedFile")) {
		most = mostUnpacked
	}
	says, err = io.ReadAll(io.LimitReader(r, most+1))
	if err != nil || int64(len(says)) > most {
		return nil, nil, errStream
	}
	return lengthShape.ReplaceAll(head, []byte("/Length")), says, nil
}
