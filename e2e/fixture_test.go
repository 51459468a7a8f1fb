package e2e_test

import (
	"bytes"
	"context"
	_ "embed"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
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

// addProcedure puts the short procedure into the table as a draft: no screen
// adds procedures. Quality approves it on its page like any other.
func addProcedure(t *testing.T, a *app) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, "postgres://settlemark_owner@/settlemark?host="+filepath.Join(a.data, "run"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, `insert into settlemark.procedures (key, revision, yaml, digest, demo, added_at)
		values ('short-hold', 1, $1, sha256(convert_to($1, 'UTF8')), false, now())`, shortHold)
	if err != nil {
		t.Fatal(err)
	}
}

// photoFile writes a picture that looks like nothing in particular.
func photoFile(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, photo(t, 640, 480), 0o600); err != nil {
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
