package demo_test

import (
	"bytes"
	"image/jpeg"
	"testing"

	"settlemark/internal/demo"
)

func TestPhotos(t *testing.T) {
	draw := func(text string, seed uint64) []byte {
		picture, err := demo.SamplePhoto(text, seed)
		if err != nil {
			t.Fatal(err)
		}
		return picture
	}
	t.Run("the same text and seed give the same picture", func(t *testing.T) {
		if !bytes.Equal(draw("L1 28JAN27", 3), draw("L1 28JAN27", 3)) {
			t.Error("two drawings differ")
		}
	})
	t.Run("another code gives another picture", func(t *testing.T) {
		if bytes.Equal(draw("L1 28JAN27", 3), draw("L1 28JAN21", 3)) {
			t.Error("two codes look the same")
		}
	})
	t.Run("the code stands dark on light, and the edges are free", func(t *testing.T) {
		picture, err := jpeg.Decode(bytes.NewReader(draw("8888888888", 5)))
		if err != nil {
			t.Fatal(err)
		}
		size, dark := picture.Bounds(), 0
		for y := range size.Max.Y {
			for x := range size.Max.X {
				r, _, _, _ := picture.At(x, y).RGBA()
				if r>>8 > 90 {
					continue
				}
				dark++
				if x < 60 || x > size.Max.X-60 || y < 60 || y > size.Max.Y-60 {
					t.Fatalf("a drop at %d,%d, off the picture's middle", x, y)
				}
			}
		}
		if dark < size.Max.X*size.Max.Y/100 {
			t.Errorf("%d dark pixels: nothing to read", dark)
		}
	})
}

func TestFont(t *testing.T) {
	const wanted = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	seen := map[[7]string]rune{}
	for _, r := range wanted {
		glyph, ok := demo.Glyphs[r]
		if !ok {
			t.Errorf("%c cannot be printed", r)
		}
		for row, dots := range glyph {
			if len(dots) != 5 {
				t.Errorf("row %d of %c has %d dots, want 5", row, r, len(dots))
			}
		}
		if other, twice := seen[glyph]; twice {
			t.Errorf("%c and %c look the same", r, other)
		}
		seen[glyph] = r
	}
}
