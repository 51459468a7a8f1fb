package words_test

import (
	"testing"
	"time"

	"settlemark/internal/words"
)

func TestText(t *testing.T) {
	lot := words.Say("Fluids")
	for _, c := range []struct {
		text            words.Text
		english, german string
	}{
		{words.Say("Sign out"), "Sign out", "Abmelden"},
		{words.Say("Demo: the code now is %s.", "123456"), "Demo: the code now is 123456.", "Demo: Der Code ist jetzt 123456."},
		{words.Say("not in any catalogue, 100 %"), "not in any catalogue, 100 %", "not in any catalogue, 100 %"},
		{words.Say("valve|Open"), "Open", "Open"},
		{words.Say("%s mPa·s", words.Number("3.84")), "3.84 mPa·s", "3,84 mPa·s"},
		{words.Say("%d mL", 2026), "2026 mL", "2026 mL"},
		{words.Plain("100 % of %s"), "100 % of %s", "100 % of %s"},
		{words.Join(", ", lot, words.Text{}, words.Say("Lines")), "Fluids, Lines", "Fluide, Linien"},
		{words.Many(1, "%d strand", "%d strands"), "1 strand", "1 strand"},
		{words.Many(0, "%d strand", "%d strands"), "0 strands", "0 strands"},
		{words.Text{}, "", ""},
		{words.Say("%s fault", words.Capital(words.Say("pressure"))), "Pressure fault", "Störung Druck"},
	} {
		if got := c.text.In(words.English); got != c.english {
			t.Errorf("English: %q, wants %q", got, c.english)
		}
		if got := c.text.In(words.German); got != c.german {
			t.Errorf("German: %q, wants %q", got, c.german)
		}
	}
}

// The header's grammar is of RFC 9110, 12.5.4.
func TestPreferred(t *testing.T) {
	for header, want := range map[string]words.Language{
		"":                              words.English,
		"de-AT,de;q=0.9,en;q=0.5":       words.German,
		"fr-FR,fr;q=0.9,de;q=0.3":       words.German,
		"en-US,en;q=0.9,de;q=0.8":       words.English,
		"ja":                            words.English,
		"de;q=0.1, en;q=0.2":            words.English,
		"no header at all; q = nothing": words.English,
	} {
		if got := words.Preferred(header); got != want {
			t.Errorf("%q: %s, wants %s", header, got, want)
		}
	}
}

func TestMoment(t *testing.T) {
	for _, c := range []struct {
		zone, at, want string
	}{
		{"Europe/Dublin", "2026-10-24T23:59:00Z", "00:59"},
		{"Europe/Dublin", "2026-10-25T00:00:00Z", "01:00 UTC+1"},
		{"Europe/Dublin", "2026-10-25T00:59:00Z", "01:59 UTC+1"},
		{"Europe/Dublin", "2026-10-25T01:00:00Z", "01:00 UTC+0"},
		{"Europe/Dublin", "2026-10-25T02:00:00Z", "02:00"},
		{"Europe/Dublin", "2026-03-29T01:00:00Z", "02:00"},
		{"America/Halifax", "2026-11-01T04:30:00Z", "01:30 UTC-3"},
		{"Asia/Kolkata", "2026-10-25T00:30:00Z", "06:00"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		at, err := time.Parse(time.RFC3339, c.at)
		if err != nil {
			t.Fatal(err)
		}
		if got := words.Moment(at.In(zone), "15:04"); got != c.want {
			t.Errorf("%s in %s: %q, wants %q", c.at, c.zone, got, c.want)
		}
	}
}
