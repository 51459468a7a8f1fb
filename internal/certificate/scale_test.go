package certificate_test

import (
	"image"
	"math"
	"testing"

	"settlemark/internal/certificate"
)

// brightness is the mean of a picture, and of one column of it.
func brightness(picture image.Image, column int) (all, one float64) {
	b := picture.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := picture.At(x, y).RGBA()
			v := float64(r+g+bl) / 3 / 257
			all += v
			if x == column {
				one += v
			}
		}
	}
	return all / float64(b.Dx()*b.Dy()), one / float64(b.Dy())
}

func TestScaled(t *testing.T) {
	for _, ratio := range []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio420, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio444} {
		ramp := image.NewYCbCr(image.Rect(0, 0, 1001, 503), ratio)
		for i := range ramp.Y {
			ramp.Y[i] = uint8(i % ramp.YStride * 255 / 1001)
		}
		for i := range ramp.Cb {
			ramp.Cb[i], ramp.Cr[i] = 128, 128
		}
		was, _ := brightness(ramp, 0)
		for _, size := range []image.Point{{333, 200}, {1000, 502}, {1001, 503}, {16, 16}} {
			t.Run(ratio.String()+" to "+size.String()+" keeps light and place", func(t *testing.T) {
				small := certificate.Scaled(ramp, size.X, size.Y)
				is, middle := brightness(small, size.X/2)
				if small.Bounds().Size() != size || math.Abs(is-was) > 1 || math.Abs(middle-127.5) > 8 {
					t.Errorf("%v: mean %.2f, was %.2f; in the middle %.2f", small.Bounds(), is, was, middle)
				}
			})
		}
		flat := image.NewYCbCr(image.Rect(0, 0, 777, 555), ratio)
		for i := range flat.Y {
			flat.Y[i] = 201
		}
		small, ok := certificate.Scaled(flat, 640, 457).(*image.YCbCr)
		if !ok {
			t.Fatal("it left its planes")
		}
		for y := range 457 {
			for x := range 640 {
				if got := small.Y[small.YOffset(x, y)]; got != 201 {
					t.Fatalf("%s: %d at %d,%d in a flat picture", ratio, got, x, y)
				}
			}
		}
	}
}
