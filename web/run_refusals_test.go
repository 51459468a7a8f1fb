package web_test

import (
	"bytes"
	"image"
	"image/color"
	"image/gif"
	"strings"
	"testing"
	"time"

	"settlemark/internal/urls"
)

// refused is one bad input: what is typed, the sentence, what must still stand
// in the form.
type refused struct {
	name, page, form string
	typed            []string
	sentence         string
	field, value     string
}

func TestRunRefusals(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.until(who, "First flush")
	b.pass(10 * time.Minute)
	run, pad, more := urls.Run(b.run), urls.Reading(b.run, "viscosity"), urls.More(b.run)
	for _, c := range []refused{
		{"wrong_unit", pad, "reading", []string{"value", "4.50", "unit", "kPa"}, "Ink viscosity is not read in kPa. Choose mPa·s.", "value", "4.50"},
		{"letters_in_a_number", pad, "reading", []string{"value", "4.5x"}, "“4.5x” is no number.", "value", "4.5x"},
		{"two_decimal_marks", pad, "reading", []string{"value", "4.5.0"}, "can be read in two ways", "value", "4.5.0"},
		{"nothing_typed", pad, "reading", []string{"value", ""}, "Type the value.", "value", ""},
		{"an_exponent", pad, "reading", []string{"value", "45e-1"}, "is no number", "value", "45e-1"},
		{"a_time_to_come", pad, "reading", append(b.taken(time.Hour), "value", "4.50", "taken_why", "x"), "is still to come", "value", "4.50"},
		{"before_the_run", pad, "reading", append(b.taken(-2*time.Hour), "value", "4.50", "taken_why", "x"), "lies before the run was opened", "value", "4.50"},
		{"a_date_long_past", pad, "reading", []string{"value", "4.50", "taken_day", "2019-01-01", "taken_at", "10:00", "taken_why", "x"}, "lies before the run was opened", "value", "4.50"},
		{"no_time_of_day", pad, "reading", []string{"value", "4.50", "taken_at", "noon", "taken_why", "x"}, "is no time of day", "taken_at", "noon"},
		{"earlier_without_a_reason", pad, "reading", append(b.taken(-time.Minute), "value", "4.50"), "Say why it was not typed when it was taken.", "value", "4.50"},
		{"codes_differ", run, "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "K-20", "lot", "5", "expires", "2030-01-01", "level_percent", "90"}, "The two codes differ", "lot", "5"},
		{"no_lot", run, "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "K-20M", "expires", "2030-01-01", "level_percent", "90"}, "Type the lot", "fluid", "K-20M"},
		{"no_date", run, "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "K-20M", "lot", "5", "expires", "soon", "level_percent", "90"}, "use-by date", "expires", "soon"},
		{"level_above_all", run, "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "K-20M", "lot", "5", "expires", "2030-01-01", "level_percent", "120"}, "between 0 and 100 %", "level_percent", "120"},
		{"fault_of_another_kind_without_words", urls.Fault(b.run), "fault", []string{"fault", "other"}, "Say which fault it was", "fault", "other"},
		{"empty_note", more, "note", []string{"text", "  "}, "Type the note.", "text", ""},
		{"a_remark_that_only_the_pen_writes", more, "note", []string{"text", "go on", "note", "Hands the run over to Anybody (P-0002)."}, "on the page of the pen", "text", "go on"},
		{"a_remark_made_of_two", more, "note", append(
			b.taken(-time.Minute), "text", "go on", "note", "Took the pen from", "taken_why", "x (P-0002).",
		), "on the page of the pen", "text", "go on"},
		{"container_to_nowhere", more, "empty", nil, "Say where the waste went.", "container", "waste"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := b.entries()
			a := b.send(who, c.page, c.form, c.typed...)
			a.t = t
			a.wants(422, c.sentence)
			a.sound(c.name)
			a.keeps(c.form, c.field, c.value)
			if n := a.page().Find("main [role=alert]").Length(); n != 1 {
				t.Errorf("%d alerts, wants one", n)
			}
			if b.entries() != before {
				t.Error("something was stored")
			}
		})
	}
	t.Run("unknown_line", func(t *testing.T) {
		before := b.entries()
		who.post(urls.Entries(b.run), "id", b.uuid(), "form", "jet-on", "kind", "step", "step", "jet-on", "outcome", "done").wants(422, "This procedure has no line")
		who.post(urls.Entries(b.run), "id", b.uuid(), "form", "x", "kind", "disposition", "ref", "1").wants(422)
		who.post(urls.Entries(b.run), "id", b.uuid(), "form", "x", "kind", "note", "text", "a", "seq", "3").wants(422, `does not have a field "seq"`)
		if b.entries() != before {
			t.Error("something was stored")
		}
	})
}

// taken is what is typed for an instant away from now, by the site's clock.
func (b *bench) taken(d time.Duration) []string {
	zone, err := time.LoadLocation(b.works.TimeZone)
	b.must(err)
	at := b.clock.In(zone).Add(d)
	return []string{"taken_day", at.Format(time.DateOnly), "taken_at", at.Format("15:04")}
}

func TestRunDoubts(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.until(who, "First flush")
	pad := urls.Reading(b.run, "viscosity")
	b.reads(who, "viscosity", "4,50").taken()
	b.pass(3 * time.Minute)
	for _, c := range []refused{
		{"far_from_the_last_check", pad, "reading", []string{"value", "5.30"}, "5.30 mPa·s? The last check was 4.50.", "value", "5.30"},
		{"a_slip_of_the_decimal_point", pad, "reading", []string{"value", "0.448"}, "0.448 mPa·s? The last check was 4.50. Decimal point?", "value", "0.448"},
		{"wrong_fluid", urls.Run(b.run), "flush-1-load", []string{"fluid", "k-20", "fluid_again", "K-20", "lot", "5", "expires", "2030-01-01", "level_percent", "90"}, "This is K-20. QU-01 takes K-20M here. Do not connect it.", "lot", "5"},
		{"wrong_fluid_scanned", urls.Run(b.run), "flush-1-load", []string{"fluid", "K-20", "via", "scan", "lot", "5", "expires", "2030-01-01", "level_percent", "90"}, "This is K-20. QU-01 takes K-20M here. Do not connect it.", "lot", "5"},
		{"level_too_low", urls.Run(b.run), "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "k-20m", "lot", "5", "expires", "2030-01-01", "level_percent", "60"}, "60 % is below the 75 %", "lot", "5"},
		{"past_its_date", urls.Run(b.run), "flush-1-load", []string{"fluid", "K-20M", "fluid_again", "K-20M", "lot", "5", "expires", "2020-01-01", "level_percent", "90"}, "Its use-by date, 2020-01-01, is past.", "lot", "5"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := b.entries()
			a := b.send(who, c.page, c.form, c.typed...)
			a.t = t
			a.wants(422, c.sentence).keeps(c.form, c.field, c.value)
			a.sound(c.name)
			if b.entries() != before {
				t.Error("stored before the question was answered")
			}
			b.send(who, c.page, c.form, append(c.typed, "sure", "yes")...).taken()
			if b.entries() != before+1 {
				t.Error("a yes did not store it")
			}
			b.send(who, urls.Correction(b.run, before+1), "correction", "reason", "tried out").taken()
		})
	}
	t.Run("type_again_gives_the_empty_field_back", func(t *testing.T) {
		before := b.entries()
		a := b.send(who, pad, "reading", "value", "9.99", "sure", "no").wants(200).keeps("reading", "value", "")
		if b.entries() != before || strings.Contains(a.text(), "9.99 mPa·s?") {
			t.Error("stored, or asked again")
		}
	})
	t.Run("a_container_that_would_be_overfull", func(t *testing.T) {
		b.answer(who, "flush-1-load")
		b.answer(who, "flush-1-run")
		b.send(who, urls.Run(b.run), "drain-2", "volume_ml", "700").wants(422, "That makes 905.5 mL in “waste”, over its limit of 800")
		b.send(who, urls.More(b.run), "empty", "route", "solvent waste, W-17").taken()
		b.send(who, urls.Run(b.run), "drain-2", "volume_ml", "700").taken()
	})
}

func TestRunPhotos(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	var moving bytes.Buffer
	b.must(gif.Encode(&moving, image.NewPaletted(image.Rect(0, 0, 8, 8), color.Palette{color.Black, color.White}), nil))
	page := urls.More(b.run)
	for name, c := range map[string]struct {
		file     string
		data     []byte
		sentence string
	}{
		"30_MB":              {"big.jpg", bytes.Repeat([]byte("x"), 30<<20), "larger than 12 MB"},
		"a_GIF_named_jpg":    {"moving.jpg", moving.Bytes(), "JPEG"},
		"nothing":            {"none.jpg", nil, "Choose a photo first."},
		"text_named_png":     {"text.png", []byte("hello"), "JPEG"},
		"half_of_a_picture":  {"half.png", picture(t, 64, 64)[:80], ""},
		"a_picture_too_wide": {"wide.png", picture(t, 12_100, 2), ""},
	} {
		t.Run(name, func(t *testing.T) {
			a := b.photo(who, page, "photo", c.file, c.data)
			a.t = t
			a.wants(422, c.sentence)
			if n := a.page().Find("main [role=alert]").Length(); n != 1 {
				t.Errorf("%d alerts, wants one", n)
			}
			if b.entries() != 0 || b.text("select count(*)::text from settlemark.photos") != "0" {
				t.Error("something was stored")
			}
		})
	}
	t.Run("a_good_one_is_stored_and_shown_to_readers_only", func(t *testing.T) {
		b.photo(who, page, "photo", "a.png", picture(t, 640, 480)).taken()
		hash := b.text("select encode(digest, 'hex') from settlemark.photos")
		a := who.get(urls.Photo(b.run, hash))
		if a.status != 200 || a.header.Get("Content-Type") != "image/jpeg" {
			t.Errorf("the photo answers %d, %s", a.status, a.header.Get("Content-Type"))
		}
		if a := b.as("administrator").get(urls.Photo(b.run, hash)); a.status != 404 {
			t.Errorf("an administrator gets the photo: %d", a.status)
		}
	})
}
