package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"strings"
)

// What a sample photo measures, in pixels.
const (
	photoWidth  = 1200
	photoHeight = 560
	photoEdge   = 110 // carton left free at each side of the code
	stride      = 7   // dots from one character to the next
)

// SamplePhoto draws what a tablet would photograph: the code in drops on a
// carton, a little askew, with grain, shade and uneven drops. Text may hold
// digits, capitals and spaces. The same text and seed give the same bytes.
func SamplePhoto(text string, seed uint64) ([]byte, error) {
	random := dice(seed, 7)
	picture := carton(random)
	printCode(picture, strings.ToUpper(text), random)
	return encode(picture)
}

// ConnectionPhoto draws the connection side of a unit: five connectors in a
// row, each with its line, so that a photo step has something to show.
func ConnectionPhoto(seed uint64) ([]byte, error) {
	random := dice(seed, 11)
	picture := ground(random, color.RGBA{R: 150, G: 156, B: 158, A: 255})
	tints := []color.RGBA{{30, 34, 40, 255}, {208, 206, 196, 255}, {120, 44, 38, 255}, {52, 92, 70, 255}, {196, 170, 60, 255}}
	for i, tint := range tints {
		x := 170 + float64(i)*215 + random.Float64()*12
		y := 210 + random.Float64()*16
		disc(picture, x, y, 74, color.RGBA{92, 97, 100, 255})
		disc(picture, x, y, 58, color.RGBA{184, 188, 190, 255})
		sway := 30 * (random.Float64() - 0.5)
		for d := 0.0; d < photoHeight-y+40; d += 3 {
			disc(picture, x+sway*math.Sin(d/160), y+d, 27, tint)
		}
		disc(picture, x, y, 34, tint)
	}
	return encode(picture)
}

// CratePhoto draws a unit as it stood in its opened crate.
func CratePhoto(seed uint64) ([]byte, error) {
	random := dice(seed, 13)
	picture := carton(random)
	lean := (random.Float64() - 0.5) * 0.04
	block(picture, 330, 40, 540, photoHeight, lean, 0.62)
	block(picture, 372, 96, 456, 150, lean, 0.55)
	block(picture, 390, 250, 420, 96, lean, 1.35)
	for i := range 4 {
		disc(picture, 420+float64(i)*120, 470, 30, color.RGBA{70, 74, 78, 255})
	}
	return encode(picture)
}

// block darkens or brightens a leaning rectangle.
func block(picture *image.RGBA, left, top, width, height int, lean, by float64) {
	for y := top; y < min(top+height, photoHeight); y++ {
		shift := int(lean * float64(y))
		for x := left + shift; x < left+shift+width; x++ {
			scale(picture, x, y, by)
		}
	}
}

// carton is a board-coloured ground with faint flutes.
func carton(random *rand.Rand) *image.RGBA {
	picture := ground(random, color.RGBA{R: 203, G: 184, B: 152, A: 255})
	for y := range photoHeight {
		flute := 1 + 0.018*math.Sin(float64(y)/9.5)
		for x := range photoWidth {
			scale(picture, x, y, flute)
		}
	}
	return picture
}

// ground is one colour with grain and with light falling off to one corner.
func ground(random *rand.Rand, base color.RGBA) *image.RGBA {
	picture := image.NewRGBA(image.Rect(0, 0, photoWidth, photoHeight))
	for y := range photoHeight {
		for x := range photoWidth {
			shade := 1.06 - 0.00011*float64(x) - 0.00016*float64(y) + 0.05*(random.Float64()-0.5)
			picture.SetRGBA(x, y, base)
			scale(picture, x, y, shade)
		}
	}
	return picture
}

// printCode throws the drops of the text onto the picture.
func printCode(picture *image.RGBA, text string, random *rand.Rand) {
	columns := float64(stride*len([]rune(text)) - 2)
	pitch := math.Min((photoWidth-2*photoEdge)/columns, 30)
	skew := (random.Float64() - 0.5) * 0.05 // the carton never lies quite straight
	left := (photoWidth - pitch*(columns-1)) / 2
	top := (photoHeight - pitch*6) / 2
	for i, r := range []rune(text) {
		for row, dots := range glyphs[r] {
			for column, dot := range dots {
				if dot != '#' {
					continue
				}
				dx := float64(stride*i+column)*pitch + pitch*0.05*random.NormFloat64()
				dy := float64(row)*pitch*1.08 + pitch*0.05*random.NormFloat64()
				radius := pitch * (0.45 + 0.03*random.NormFloat64())
				disc(picture, left+dx, top+dy+skew*(dx-photoWidth/2+left), radius, color.RGBA{24, 26, 32, 255})
			}
		}
	}
}

// disc draws a soft-edged spot.
func disc(picture *image.RGBA, cx, cy, radius float64, tint color.RGBA) {
	for y := int(cy - radius - 2); y <= int(cy+radius+2); y++ {
		for x := int(cx - radius - 2); x <= int(cx+radius+2); x++ {
			if !(image.Point{X: x, Y: y}).In(picture.Rect) {
				continue
			}
			cover := math.Max(0, math.Min(1, (radius+1-math.Hypot(float64(x)-cx, float64(y)-cy))/2))
			under := picture.RGBAAt(x, y)
			mix := func(a, b uint8) uint8 { return uint8(float64(a)*(1-cover*0.93) + float64(b)*cover*0.93) }
			picture.SetRGBA(x, y, color.RGBA{mix(under.R, tint.R), mix(under.G, tint.G), mix(under.B, tint.B), 255})
		}
	}
}

func scale(picture *image.RGBA, x, y int, by float64) {
	c := picture.RGBAAt(x, y)
	times := func(v uint8) uint8 { return uint8(math.Min(255, float64(v)*by)) }
	picture.SetRGBA(x, y, color.RGBA{times(c.R), times(c.G), times(c.B), 255})
}

func encode(picture image.Image) ([]byte, error) {
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: 82}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
