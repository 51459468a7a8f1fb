package certificate

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"
	_ "image/png" // photos are stored as JPEG; a PNG is taken as well
	"slices"

	"github.com/jung-kurt/gofpdf"
	"golang.org/x/image/draw"
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
	var widths []int
	for _, pic := range doc.Pictures {
		stored, ok := photos[pic.SHA256]
		if sum := sha256.Sum256(stored); !ok || hex.EncodeToString(sum[:]) != pic.SHA256 {
			return nil, fmt.Errorf("certificate %s: photo %s is missing or altered", doc.Number, pic.SHA256)
		}
		from, _, err := image.Decode(bytes.NewReader(stored))
		if err != nil {
			return nil, fmt.Errorf("certificate %s: photo %s: %w", doc.Number, pic.SHA256, err)
		}
		wide, heavy := otherWide, otherHeavy
		if pic.Sample {
			wide, heavy = sampleWide, sampleHeavy
		}
		b := from.Bounds()
		w := max(min(wide, b.Dx(), mostHigh*b.Dx()/b.Dy()), 16)
		for slices.Contains(widths, w) {
			w--
		}
		widths = append(widths, w)
		p := print{name: pic.SHA256, width: w, height: max(1, min(mostHigh, b.Dy()*w/b.Dx()))}
		if p.jpeg, err = compress(from, p.width, p.height, heavy); err != nil {
			return nil, fmt.Errorf("certificate %s: photo %s: %w", doc.Number, pic.SHA256, err)
		}
		out = append(out, p)
	}
	return out, nil
}

// compress scales a photo and lowers its quality until it is light enough.
func compress(from image.Image, w, h, heavy int) ([]byte, error) {
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(to, to.Bounds(), image.White, image.Point{}, draw.Src)
	draw.BiLinear.Scale(to, to.Bounds(), from, from.Bounds(), draw.Over, nil)
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
	o := gofpdf.ImageOptions{ImageType: "JPEG"}
	p.pdf.RegisterImageOptionsReader(ph.name, o, bytes.NewReader(ph.jpeg))
	p.pdf.ImageOptions(ph.name, x, y, w, h, false, o, 0, "")
	p.pdf.SetDrawColor(hair, hair, hair)
	p.pdf.SetLineWidth(0.4)
	p.pdf.Rect(x, y, w, h, "D")
}
