package db_test

import (
	"fmt"
	"os"
	"regexp"
	"testing"

	"settlemark/db"
	"settlemark/db/dbtest"
)

func TestMigrations(t *testing.T) {
	files, err := os.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	down := regexp.MustCompile(`(?m)^-- \+goose Down`)
	for i, file := range files {
		t.Run(file.Name(), func(t *testing.T) {
			if want := fmt.Sprintf("%04d_", i+1); file.Name()[:5] != want {
				t.Errorf("is number %d, expected a name that begins with %s", i+1, want)
			}
			text, err := os.ReadFile("migrations/" + file.Name())
			if err != nil {
				t.Fatal(err)
			}
			if down.Match(text) {
				t.Error("goes back; migrations only go forward")
			}
		})
	}
	t.Run("running them again changes nothing", func(t *testing.T) {
		d := dbtest.New(t)
		if err := db.Migrate(t.Context(), d.OwnerURL, "settlemark_app"); err != nil {
			t.Error(err)
		}
		if err := d.CheckRights(t.Context()); err != nil {
			t.Error(err)
		}
	})
	t.Run("a login that does not exist is named", func(t *testing.T) {
		d := dbtest.New(t)
		if err := db.Migrate(t.Context(), d.OwnerURL, "nobody_here"); err == nil {
			t.Error("expected an error")
		}
	})
}
