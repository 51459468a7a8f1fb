package act

import (
	"bytes"
	"encoding/binary"
	"image"
)

// orientation reads how a JPEG's camera was held: Exif tag 0x0112, 1 to 8. It
// gives 1 (upright) for everything that it does not understand.
func orientation(jpg []byte) int {
	exif := exifOf(jpg)
	if len(exif) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if string(exif[:2]) == "II" {
		order = binary.LittleEndian
	}
	at := int(order.Uint32(exif[4:]))
	if at < 8 || at+2 > len(exif) {
		return 1
	}
	for i := range int(order.Uint16(exif[at:])) {
		field := at + 2 + 12*i
		if field+12 > len(exif) {
			return 1
		}
		if order.Uint16(exif[field:]) == 0x0112 {
			if o := int(order.Uint16(exif[field+8:])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
	}
	return 1
}

// exifOf gives the TIFF part of the APP1 segment, nil when there is none.
func exifOf(jpg []byte) []byte {
	if !bytes.HasPrefix(jpg, []byte{0xFF, 0xD8}) {
		return nil
	}
	for at := 2; at+4 <= len(jpg) && jpg[at] == 0xFF; {
		marker, length := jpg[at+1], int(binary.BigEndian.Uint16(jpg[at+2:]))
		if marker == 0xDA || length < 2 || at+2+length > len(jpg) { // the picture begins, or it is broken
			return nil
		}
		if exif, found := bytes.CutPrefix(jpg[at+4:at+2+length], []byte("Exif\x00\x00")); found && marker == 0xE1 {
			return exif
		}
		at += 2 + length
	}
	return nil
}

// turn gives the picture upright. The eight orientations are the turns and
// mirrors of a rectangle; 5 to 8 swap its sides.
func turn(picture *image.RGBA, orientation int) *image.RGBA {
	if orientation == 1 {
		return picture
	}
	w, h := picture.Bounds().Dx(), picture.Bounds().Dy()
	size := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	upright := image.NewRGBA(size)
	for y := range h {
		for x := range w {
			to := image.Pt(x, y)
			switch orientation {
			case 2:
				to = image.Pt(w-1-x, y)
			case 3:
				to = image.Pt(w-1-x, h-1-y)
			case 4:
				to = image.Pt(x, h-1-y)
			case 5:
				to = image.Pt(y, x)
			case 6:
				to = image.Pt(h-1-y, x)
			case 7:
				to = image.Pt(h-1-y, w-1-x)
			case 8:
				to = image.Pt(y, w-1-x)
			}
			upright.SetRGBA(to.X, to.Y, picture.RGBAAt(x, y))
		}
	}
	return upright
}
