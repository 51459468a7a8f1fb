package db

import (
	"regexp"
	"strings"
	"testing"

	"settlemark/internal/words"
)

// ofTheLog are raised by functions that only the sequencer calls.
var ofTheLog = regexp.MustCompile(`^(no such act|certificate % is not the next|epoch %|the log has|% of % leaves|a checkpoint of)`)

var raise = regexp.MustCompile(`(?s)raise exception\s+'((?:[^']|'')*)'.*?using errcode = 'SM(\w+)'`)

// Every sentence that a function raises for a person is known by its words, so
// that it can be said in every language.
func TestRaised(t *testing.T) {
	known := 0
	for _, migration := range migrationTexts(t) {
		for _, found := range raise.FindAllStringSubmatch(migration, -1) {
			text := strings.ReplaceAll(found[1], "''", "'")
			if found[2] == "APP" || ofTheLog.MatchString(text) {
				continue
			}
			known++
			message := strings.ReplaceAll(text, "%", "X-1")
			if raised(message).In(words.German) == message {
				t.Errorf("%q is raised, and sentences in db/raised.go lacks it", text)
			}
		}
	}
	if known < 50 {
		t.Fatalf("only %d sentences were found, so this shows nothing", known)
	}
}

func TestRaisedSaysTheState(t *testing.T) {
	got := raised("Unit QU-01 is not free: run R-0007 is submitted.").In(words.German)
	if want := "Einheit QU-01 ist nicht frei: Lauf R-0007 ist eingereicht."; got != want {
		t.Errorf("%q, wants %q", got, want)
	}
}

func migrationTexts(t *testing.T) []string {
	t.Helper()
	files, err := migrations.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range files {
		text, err := migrations.ReadFile("migrations/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, string(text))
	}
	return all
}
