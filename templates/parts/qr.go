package parts

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// quiet is the white edge that readers of QR pictures need, in modules.
const quiet = 4

// QR is a text as a picture: the side of its square in modules, and the path of
// what is black.
func QR(text string) (side int, path string, err error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return 0, "", fmt.Errorf("qr picture: %w", err)
	}
	var p strings.Builder
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				fmt.Fprintf(&p, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	return code.Size + 2*quiet, p.String(), nil
}
