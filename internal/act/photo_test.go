package act_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"testing"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// corners is 60 × 40, white, with its top left corner red.
func corners() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 60, 40))
	for i := range 60 * 40 {
		img.Set(i%60, i/60, color.White)
	}
	for i := range 20 * 15 {
		img.Set(i%20, i/20, color.RGBA{R: 255, A: 255})
	}
	return img
}

func encoded(t *testing.T, img image.Image) []byte {
	var file bytes.Buffer
	must(t, jpeg.Encode(&file, img, &jpeg.Options{Quality: 95}))
	return file.Bytes()
}

// held puts an Exif segment with the orientation, a position and a name in.
func held(jpg []byte, orientation int, order binary.AppendByteOrder) []byte {
	mark := map[bool]string{true: "II", false: "MM"}[order == binary.AppendByteOrder(binary.LittleEndian)]
	tiff := order.AppendUint32(order.AppendUint16([]byte(mark), 42), 8)
	tiff = order.AppendUint16(tiff, 1)
	tiff = order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, 0x0112), 3), 1)
	tiff = order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, uint16(orientation)), 0), 0)
	segment := append([]byte("Exif\x00\x00"), tiff...)
	segment = append(segment, "GPS 53.3498 N"...)
	head := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, byte((len(segment)+2)>>8), byte(len(segment)+2))
	return append(append(head, segment...), jpg[2:]...)
}

func TestPhoto(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	kept := func(t *testing.T, original []byte) (image.Image, []byte) {
		t.Helper()
		photo, err := w.StorePhoto(ctx, w.engineer, r.ID, original, evening)
		must(t, err)
		stored, err := w.db.Photo(ctx, w.quality, r.ID, photo.SHA256)
		must(t, err)
		img, format, err := image.Decode(bytes.NewReader(stored.Bytes))
		must(t, err)
		if format != "jpeg" || img.Bounds().Dx() != stored.Width || stored.OriginalSHA256 != photo.OriginalSHA256 {
			t.Errorf("got %s %v, stored %+v", format, img.Bounds(), stored.Photo)
		}
		return img, stored.Bytes
	}
	// Where the red corner lies when the camera was held so: Exif 2.3, table 5 (orientation).
	for orientation, corner := range map[int]string{
		1: "top left", 2: "top right", 3: "bottom right", 4: "bottom left",
		5: "top left", 6: "top right", 7: "bottom right", 8: "bottom left",
	} {
		for name, order := range map[string]binary.AppendByteOrder{"little-endian": binary.LittleEndian, "big-endian": binary.BigEndian} {
			t.Run(fmt.Sprintf("orientation %d, %s, is turned upright", orientation, name), func(t *testing.T) {
				img, file := kept(t, held(encoded(t, corners()), orientation, order))
				size := image.Pt(60, 40)
				if orientation >= 5 {
					size = image.Pt(40, 60)
				}
				if img.Bounds().Size() != size || redCorner(img) != corner {
					t.Errorf("got %v, red %s, want %v, %s", img.Bounds().Size(), redCorner(img), size, corner)
				}
				if bytes.Contains(file, []byte("GPS")) || bytes.Contains(file, []byte("Exif")) {
					t.Error("something of the camera is left in the file")
				}
			})
		}
	}
	t.Run("what trails the picture is dropped", func(t *testing.T) {
		_, file := kept(t, append(encoded(t, corners()), "<script>alert(1)</script>"...))
		if bytes.Contains(file, []byte("script")) {
			t.Error("it was kept")
		}
	})
	t.Run("a PNG with holes is kept on white", func(t *testing.T) {
		var file bytes.Buffer
		must(t, png.Encode(&file, image.NewNRGBA(image.Rect(0, 0, 10, 10))))
		img, _ := kept(t, file.Bytes())
		if red, green, blue, _ := img.At(5, 5).RGBA(); red < 0xf000 || green < 0xf000 || blue < 0xf000 {
			t.Errorf("got %v", img.At(5, 5))
		}
	})
	t.Run("a large one is scaled to 2,560", func(t *testing.T) {
		img, _ := kept(t, encoded(t, image.NewGray(image.Rect(0, 0, 3000, 1500))))
		if img.Bounds().Size() != image.Pt(2560, 1280) {
			t.Errorf("got %v", img.Bounds())
		}
	})
	t.Run("the same photo again is one photo", func(t *testing.T) {
		first := picture(8, 8)
		kept(t, first)
		before := rowsIn(t, w.db)["photos"]
		kept(t, first)
		if after := rowsIn(t, w.db)["photos"]; after != before {
			t.Errorf("%d photos, then %d", before, after)
		}
	})
}

func redCorner(img image.Image) string {
	b := img.Bounds()
	for name, p := range map[string]image.Point{
		"top left": {4, 4}, "top right": {b.Max.X - 5, 4}, "bottom left": {4, b.Max.Y - 5}, "bottom right": {b.Max.X - 5, b.Max.Y - 5},
	} {
		if red, green, _, _ := img.At(p.X, p.Y).RGBA(); red > 0xc000 && green < 0x4000 {
			return name
		}
	}
	return "nowhere"
}

// Nobody fills the disk by opening run after run.
func TestPhotosOfADay(t *testing.T) {
	w := newWorld(t)
	must(t, w.unit(t.Context(), "U-2"))
	r, before := w.open("U-1"), w.open("U-2")
	dbtest.Exec(t, w.db.AdminURL, fmt.Sprintf(`insert into settlemark.photos (run_id, digest, original, media_type, width, height, bytes, person_id)
		select '%s', sha256(n::text::bytea), sha256(n::text::bytea), 'image/jpeg', 1, 1, n::text::bytea, '%s' from generate_series(1, 499) n`, before.ID, w.engineer.ID))
	_, err := w.StorePhoto(t.Context(), w.engineer, r.ID, picture(4, 4), evening)
	must(t, err)
	_, err = w.StorePhoto(t.Context(), w.engineer, r.ID, picture(4, 4), evening)
	refused(t, err, problem.Conflict)
}

func TestPhotoRefuses(t *testing.T) {
	w := newWorld(t)
	r := w.open("U-1")
	var asGIF bytes.Buffer
	must(t, gif.Encode(&asGIF, image.NewPaletted(image.Rect(0, 0, 4, 4), color.Palette{color.Black}), nil))
	whole := encoded(t, corners())
	for name, file := range map[string][]byte{
		"nothing":                   nil,
		"a GIF named .jpg":          asGIF.Bytes(),
		"a text":                    []byte("not a picture"),
		"an SVG":                    []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`),
		"a PDF":                     []byte("%PDF-1.7\n"),
		"30 MB":                     append(whole, make([]byte, 30<<20)...),
		"half a picture":            whole[:len(whole)/2],
		"30,000 × 30,000 pixels":    claimed(30000, 30000),
		"12,001 pixels on one side": claimed(12001, 10),
		"51 million pixels":         claimed(10200, 5000),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := w.StorePhoto(t.Context(), w.engineer, r.ID, file, evening)
			refused(t, err, problem.Invalid)
			if n := rowsIn(t, w.db)["photos"]; n != 0 {
				t.Errorf("%d photos are stored", n)
			}
		})
	}
	t.Run("others than the holder of the pen", func(t *testing.T) {
		for p, kind := range map[*commissioning.Person]problem.Kind{
			&w.second: problem.Forbidden, &w.supervisor: problem.Forbidden, &w.stranger: problem.NotFound, &w.admin: problem.NotFound,
		} {
			_, err := w.StorePhoto(t.Context(), *p, r.ID, whole, evening)
			refused(t, err, kind)
		}
	})
	t.Run("the 61st of a run", func(t *testing.T) {
		for range 60 {
			_, err := w.StorePhoto(t.Context(), w.engineer, r.ID, picture(4, 4), evening)
			must(t, err)
		}
		_, err := w.StorePhoto(t.Context(), w.engineer, r.ID, picture(4, 4), evening)
		refused(t, err, problem.Conflict)
	})
}

// claimed is the head of a PNG that claims a size.
func claimed(width, height uint32) []byte {
	var file bytes.Buffer
	_ = png.Encode(&file, image.NewGray(image.Rect(0, 0, 1, 1)))
	head := file.Bytes()
	binary.BigEndian.PutUint32(head[16:], width)
	binary.BigEndian.PutUint32(head[20:], height)
	binary.BigEndian.PutUint32(head[29:], crc32.ChecksumIEEE(head[12:29]))
	return head
}
