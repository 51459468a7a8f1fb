package e2e_test

import (
	"bytes"
	_ "embed"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
)

// The people and things of an empty installation, all made up.
const (
	password = "four plums in a bowl"
	site     = "Plumley Works"
)

// shortHold is a procedure with every kind of line and a hold of seconds, since
// a real one holds for half an hour.
//
//go:embed testdata/short-hold.yaml
var shortHold string

// photoFile writes a picture that looks like nothing in particular.
func photoFile(t *testing.T, name string) string { return photoOf(t, name, 640, 480) }

func photoOf(t *testing.T, name string, width, height int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, photo(t, width, height), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func photo(t *testing.T, width, height int) []byte {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			picture.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(x * y / 64), 255})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, nil); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
