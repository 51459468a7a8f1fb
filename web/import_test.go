package web_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"mime/multipart"
	"net/url"
	"strings"
	"testing"
	"time"

	"settlemark/internal/fsck"
	"settlemark/internal/tabular"
	"settlemark/internal/urls"
)

// imports chooses a file on the page of a run.
func (b *bench) imports(who *browser, name string, file []byte) answer {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("file", name)
	b.must(err)
	_, err = part.Write(file)
	b.must(err)
	b.must(form.Close())
	return who.request("POST", urls.Import(b.run), body.String(), "Content-Type", form.FormDataContentType())
}

// reads sends the form with which the page shows a file, with other choices.
func (a answer) readAs(who *browser, run string, pairs ...string) answer {
	a.t.Helper()
	form := url.Values{}
	box := a.page().Find("form.import")
	for _, e := range box.Find("input[name]").EachIter() {
		form.Set(e.AttrOr("name", ""), e.AttrOr("value", ""))
	}
	for _, e := range box.Find("select[name]").EachIter() {
		form.Set(e.AttrOr("name", ""), e.Find("option[selected]").AttrOr("value", ""))
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for name, values := range form {
		if err := parts.WriteField(name, values[0]); err != nil {
			a.t.Fatal(err)
		}
	}
	if err := parts.Close(); err != nil {
		a.t.Fatal(err)
	}
	return who.request("POST", run+"/import/read", body.String(), "Content-Type", parts.FormDataContentType())
}

// A file is shown before it is stored, stored once however often it comes, and
// read the next time as it was read the last.
func TestImport(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.pass(30 * time.Minute)
	run := urls.Run(b.run)
	zone, err := time.LoadLocation(b.works.TimeZone)
	b.must(err)
	at := func(back time.Duration) string { return b.clock.Add(-back).In(zone).Format("02.01.2006 15:04:05") }
	file := []byte("Zeit;Visk. [cP];Ink temperature;Note\r\n" +
		at(5*time.Hour) + ";4,40;21,0;before the run\r\n" +
		at(10*time.Minute) + ";4,50;21,5;\"=HYPERLINK(\"\"x\"\")\"\r\n" +
		at(9*time.Minute) + ";<b>4</b>;21,6;\r\n" +
		at(-2*time.Hour) + ";4,51;;\r\n" +
		at(8*time.Minute) + ";4,48;21,6;\r\n")
	before := b.entries()
	who.get(run+"/more").wants(200, "Readings from a file")
	page := b.imports(who, "controller.csv", file).wants(200, "In controller.csv", "1 row lies before the run")
	page.sound("the page of a file")
	if b.entries() != before {
		t.Fatal("looking stored something")
	}
	if got := page.page().Find("select[name=column-1] option[selected]").AttrOr("value", ""); got != "" {
		t.Errorf("%q is taken for the viscosity without having its name", got)
	}
	page = page.readAs(who, run, "column-1", "viscosity", "unit-1", "degC").wants(422, "is not read in °C").readAs(who, run, "unit-1", "cP").wants(200, "4.50 cP", "Store 6 readings", "Line 4:", "“<b>4</b>” is no number")
	page.sound("the page of a file, read otherwise")
	if b.entries() != before {
		t.Fatal("reading it otherwise stored something")
	}
	done := page.readAs(who, run, "store", "yes").wants(200, "5 readings are stored.", "Line 5:", "2 rows are no readings")
	done.sound("the page of an imported file")
	if n := b.entries() - before; n != 6 { // one is the remark that names the file
		t.Fatalf("%d entries were added", n)
	}
	if got, want := b.text(`select convert_from(body, 'UTF8')::json->>'text' from settlemark.entries where kind = 'note'`), fmt.Sprintf("controller.csv SHA-256 %x", sha256.Sum256(file)); got != want {
		t.Errorf("the file is named %q, wants %q", got, want)
	}
	who.get(run+"/logbook").wants(200, "controller.csv SHA-256", "imported", "time not proven")
	report, err := fsck.Check(t.Context(), b.db.DB, fsck.Outside{})
	b.must(err)
	if len(report.Faults) > 0 {
		t.Errorf("the record is not sound: %v", report.Faults)
	}
	if got := b.text(`select string_agg(distinct convert_from(body, 'UTF8')::json->>'via', ',') || ' ' || count(*) filter (where convert_from(body, 'UTF8')::json->'clock'->>'proven' = 'false')
		from settlemark.entries where kind = 'reading'`); got != "import 5" {
		t.Errorf("stored as %q", got)
	}
	again := b.imports(who, "controller.csv", file)
	if got := again.page().Find("select[name=column-1] option[selected]").AttrOr("value", ""); got != "viscosity" {
		t.Errorf("the mapping of the unit is forgotten: %q", got)
	}
	again.readAs(who, run, "store", "yes").wants(200, "0 readings are stored.", "5 were stored before and are not stored twice.")
	if n := b.entries() - before; n != 6 {
		t.Errorf("after the second time there are %d", n)
	}
	t.Run("a value that contradicts what is stored is refused", func(t *testing.T) {
		a := b.imports(who, "later.csv", bytes.Replace(file, []byte(";4,50;"), []byte(";4,70;"), 1)).readAs(who, run, "store", "yes")
		a.t = t
		a.wants(200, "0 readings are stored.", "4 were stored before", "Line 3: Another value was stored for this time before.")
	})
	t.Run("another delimiter is another guess", func(t *testing.T) {
		other := again.readAs(who, run, "delimiter", "comma")
		other.t = t
		other.wants(200, "0 readings in the time of the run")
	})
	t.Run("what can't be read is refused with a sentence", func(t *testing.T) {
		for sentence, file := range map[string][]byte{
			"This is no text file": []byte("PK\x03\x04 a workbook"), "larger than 20 MB": bytes.Repeat([]byte("a;b\n"), tabular.MaxFile/4+1), "This file is empty": nil,
		} {
			a := b.imports(who, "odd", file)
			a.t = t
			a.wants(422, sentence)
			a.sound("a refused file")
		}
		who.post(run+"/import", "file", "x").wants(422, "Choose a file first")
	})
	t.Run("only who holds the pen stores", func(t *testing.T) {
		mate := b.as("mate")
		a := mate.get(run + "/import")
		a.t = t
		a.wants(200, "holds the pen of this run")
		if a = again.readAs(mate, run, "store", "yes"); a.status != 403 || b.entries()-before != 7 { // the later file was named
			t.Errorf("status %d: %s", a.status, strings.TrimSpace(a.text()))
		}
	})
}
