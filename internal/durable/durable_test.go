package durable_test

import (
	"os"
	"path/filepath"
	"testing"

	"settlemark/internal/durable"
)

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "note")
	for _, text := range []string{"one", "two"} {
		if err := durable.Write(path, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != text {
			t.Errorf("%q, %v", got, err)
		}
	}
	about, err := os.Stat(path)
	if err != nil || about.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", about.Mode(), err)
	}
	t.Run("leaves nothing behind where it can't write", func(t *testing.T) {
		if err := os.Mkdir(filepath.Join(dir, "folder"), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := durable.Write(filepath.Join(dir, "folder"), []byte("x")); err == nil {
			t.Error("it wrote over a folder")
		}
		if all, _ := os.ReadDir(dir); len(all) != 2 {
			t.Errorf("%v", all)
		}
	})
}
