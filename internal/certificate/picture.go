package certificate

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"
	_ "image/png" // photos are stored as JPEG; a PNG is taken as well
	"slices"

	"github.com/jung-kurt/gofpdf"
)

// A print is at most so many pixels wide, the sample wider than the others, and
// no heavier than its share of what keeps the file small.
const (
	sampleWide  = 1000
	otherWide   = 560
	mostHigh    = 1400
	sampleHeavy = 380 << 10
	otherHeavy  = 200 << 10
)

// print is a photo as it is embedded.
type print struct {
	name          string
	jpeg          []byte
	width, height int
}

// scalePictures makes the prints of a document in its order. No two have the
// same width: the PDF library orders pictures by width and would put those of
// equal width in a different order each time.
func scalePictures(doc Document, photos map[string][]byte) ([]print, error) {
	var out []print
	for _, pic := range doc.Pictures {
		stored, ok := photos[pic.SHA256]
		if sum := sha256.Sum256(stored); !ok || hex.EncodeToString(sum[:]) != pic.SHA256 {
			return nil, fmt.Errorf("certificate %s: photo %s is missing or altered", doc.Number, pic.SHA256)
		}
		p, err := asPrint(pic, stored, out)
		if err != nil {
			return nil, fmt.Errorf("certificate %s: photo %s: %w", doc.Number, pic.SHA256, err)
		}
		out = append(out, p)
	}
	return out, nil
}

// asPrint takes a light photo as it is stored and makes a heavy one smaller.
func asPrint(pic Picture, stored []byte, before []print) (print, error) {
	taken := func(w int) bool { return slices.ContainsFunc(before, func(p print) bool { return p.width == w }) }
	wide, heavy := otherWide, otherHeavy
	if pic.Sample {
		wide, heavy = sampleWide, sampleHeavy
	}
	if size, err := jpeg.DecodeConfig(bytes.NewReader(stored)); err == nil && len(stored) <= heavy {
		w := size.Width
		for taken(w) {
			w--
		}
		if narrow, ok := narrowed(stored, size.Width, w); ok {
			return print{name: pic.SHA256, jpeg: narrow, width: w, height: size.Height}, nil
		}
	}
	from, _, err := image.Decode(bytes.NewReader(stored))
	if err != nil {
		return print{}, err
	}
	b := from.Bounds()
	w := max(min(wide, b.Dx(), mostHigh*b.Dx()/b.Dy()), 16)
	for taken(w) {
		w--
	}
	p := print{name: pic.SHA256, width: w, height: max(1, min(mostHigh, b.Dy()*w/b.Dx()))}
	p.jpeg, err = compress(from, p.width, p.height, heavy)
	return p, err
}

// narrowed leaves the last columns of a JPEG out, without touching the rest: the
// width in its head says less, within the same blocks of eight pixels.
func narrowed(jpg []byte, from, to int) ([]byte, bool) {
	const frame = 0xC0 // baseline, as photos are stored
	for at := 2; at+9 <= len(jpg) && jpg[at] == 0xFF; {
		if jpg[at+1] != frame {
			at += 2 + int(binary.BigEndian.Uint16(jpg[at+2:]))
			continue
		}
		if (from-1)/8 != (to-1)/8 || int(binary.BigEndian.Uint16(jpg[at+7:])) != from {
			return nil, false
		}
		out := bytes.Clone(jpg)
		binary.BigEndian.PutUint16(out[at+7:], uint16(to)) //nolint:gosec // less than it was
		return out, true
	}
	return nil, false
}

// compress scales a photo and lowers its quality until it is light enough.
func compress(from image.Image, w, h, heavy int) ([]byte, error) {
	to := scaled(from, w, h)
	var out bytes.Buffer
	for quality := 82; ; quality -= 14 {
		out.Reset()
		if err := jpeg.Encode(&out, to, &jpeg.Options{Quality: quality}); err != nil {
			return nil, err
		}
		if out.Len() <= heavy || quality < 20 {
			return out.Bytes(), nil
		}
	}
}

func (p *paper) picture(ph print, x, y, w, h float64) {
	if p.dry {
		return
	}
	o := gofpdf.ImageOptions{ImageType: "JPEG"}
	p.pdf.RegisterImageOptionsReader(ph.name, o, bytes.NewReader(ph.jpeg))
	p.pdf.ImageOptions(ph.name, x, y, w, h, false, o, 0, "")
	p.pdf.SetDrawColor(hair, hair, hair)
	p.pdf.SetLineWidth(0.4)
	p.pdf.Rect(x, y, w, h, "D")
}
