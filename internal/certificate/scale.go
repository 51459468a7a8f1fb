package certificate

import (
	"image"

	"golang.org/x/image/draw"
)

// scaled makes a photo smaller. One as cameras store it stays in its planes,
// each averaged over the area that a pixel covers: that takes a third of the
// time of the way through red, green and blue.
func scaled(from image.Image, w, h int) image.Image {
	photo, ok := from.(*image.YCbCr)
	if ok {
		cw, ch, known := colourSize(photo)
		if known && w <= photo.Rect.Dx() && h <= photo.Rect.Dy() {
			to := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
			shrink(plane{to.Y, to.YStride, w, h}, plane{photo.Y, photo.YStride, photo.Rect.Dx(), photo.Rect.Dy()})
			shrink(plane{to.Cb, to.CStride, (w + 1) / 2, (h + 1) / 2}, plane{photo.Cb, photo.CStride, cw, ch})
			shrink(plane{to.Cr, to.CStride, (w + 1) / 2, (h + 1) / 2}, plane{photo.Cr, photo.CStride, cw, ch})
			return to
		}
	}
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(to, to.Bounds(), image.White, image.Point{}, draw.Src)
	draw.BiLinear.Scale(to, to.Bounds(), from, from.Bounds(), draw.Over, nil)
	return to
}

// colourSize is the size of the two colour planes, for the ways in which
// cameras thin them out.
func colourSize(photo *image.YCbCr) (w, h int, known bool) {
	w, h = photo.Rect.Dx(), photo.Rect.Dy()
	switch photo.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		w, h = (w+1)/2, (h+1)/2
	case image.YCbCrSubsampleRatio422:
		w = (w + 1) / 2
	case image.YCbCrSubsampleRatio444:
	default:
		return 0, 0, false
	}
	return w, h, photo.Rect.Min == image.Point{}
}

// plane is one of the three parts of a picture.
type plane struct {
	pix          []uint8
	stride, w, h int
}

// share is what of a line goes into one of the shorter line, by weights that
// make 1<<12.
type share struct {
	at      int
	weights []uint32
}

func shares(from, to int) []share {
	all := make([]share, to)
	for i := range all {
		// The area that i covers, in parts of a source pixel: to parts make one.
		begin, end := i*from, (i+1)*from
		s, left := share{at: begin / to}, uint32(1<<12)
		for at := s.at; at*to < end; at++ {
			part := uint32((min(end, (at+1)*to) - max(begin, at*to)) << 12 / from) //nolint:gosec // at most 1<<12
			s.weights = append(s.weights, part)
			left -= part
		}
		s.weights[len(s.weights)/2] += left // what rounding left over
		all[i] = s
	}
	return all
}

// shrink fills a plane from a larger one, or one of its size.
func shrink(to, from plane) {
	columns, lines := shares(from.w, to.w), shares(from.h, to.h)
	sums := make([]uint32, to.w)
	for y, line := range lines {
		clear(sums)
		for i, weight := range line.weights {
			row := from.pix[(line.at+i)*from.stride:][:from.w]
			for x, c := range columns {
				sum := uint32(0)
				for j, v := range row[c.at : c.at+len(c.weights)] {
					sum += uint32(v) * c.weights[j]
				}
				sums[x] += (sum >> 4) * weight
			}
		}
		for x, sum := range sums {
			to.pix[y*to.stride+x] = uint8((sum + 1<<19) >> 20) //nolint:gosec // weights make 1<<12, twice
		}
	}
}
