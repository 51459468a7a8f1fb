package e2e_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color/palette"
	"image/gif"
	"net/http"
	"net/url"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

// TestBadInput sends what should not be taken: one plain sentence comes back,
// what was typed still stands in the form, and nothing is stored.
func TestBadInput(t *testing.T) {
	a := demoApp(t)
	engineer := visitAs(t, a, "marit")
	id := engineer.opens("BH-01", "demo-return-to-service/1")
	at := "/runs/" + id
	reading := engineer.form(at+"/reading?quantity=viscosity", "form[data-form=reading]")
	confirm := engineer.form(at, "form[data-form=jet-off]")
	for _, c := range []struct {
		name     string
		form     form
		typed    string // the field that must still hold what was typed
		sentence string
	}{
		{"a wrong unit", reading.with("value", "4.51", "unit", "degC"), "value", "is not read in °C"},
		{"no unit that there is", reading.with("value", "4.51", "unit", "stone"), "value", "is not read in stone"},
		{"letters in a number", reading.with("value", "4.5o"), "value", "“4.5o” is no number"},
		{"an empty number", reading.with("value", ""), "", "Type the value"},
		{"a number without end", reading.with("value", strings.Repeat("9", 400)), "value", ""},
		{"a time before the run", reading.with("value", "4.51", "taken_day", "2001-02-03", "taken_at", "04:05", "taken_why", "Tablet was flat"), "value", "before the run was opened"},
		{"a time still to come", reading.with("value", "4.51", "taken_day", "2101-02-03", "taken_at", "04:05", "taken_why", "Tablet was flat"), "taken_why", "still to come"},
		{"a time that is none", reading.with("value", "4.51", "taken_at", "25:61", "taken_why", "Tablet was flat"), "taken_at", "is no time of day"},
		{"an unknown step", confirm.with("step", "no-such-line"), "", "no line"},
		{"an unknown kind of form", form{at + "/entries", url.Values{"id": confirm.values["id"], "form": {"jet-off"}, "kind": {"release"}}}, "", "of no kind that a run takes"},
		{"a field that no form has", confirm.with("received_at", "2001-01-01T00:00:00Z"), "", "does not have a field"},
		{"a fault that needs words", form{at + "/entries", url.Values{"id": confirm.values["id"], "form": {"fault"}, "kind": {"fault"}, "fault": {"other"}}}, "", "Say which fault"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := engineer.entries(id)
			got := engineer.send(c.form.action, c.form.values)
			refused(t, got, c.sentence)
			if c.typed != "" {
				again, err := got.form("form[data-form=" + c.form.values.Get("form") + "]")
				if err != nil || again.values.Get(c.typed) != c.form.values.Get(c.typed) {
					t.Errorf("the form no longer holds what was typed: %v %v", again.values, err)
				}
			}
			sameEntries(t, before, engineer.entries(id))
		})
	}
	badPhotos(t, engineer, id)
	otherSites(t, a, id)
}

func badPhotos(t *testing.T, engineer *visitor, id string) {
	t.Helper()
	at := "/runs/" + id
	upload := engineer.form(at+"/more", "form[enctype='multipart/form-data']")
	for _, c := range []struct {
		name, file string
		content    []byte
		sentence   string
	}{
		{"a photo of 30 MB", "large.jpg", append(photo(t, 64, 64), make([]byte, 30<<20)...), "12 MB"},
		{"a GIF named .jpg", "moving.jpg", movingPicture(t), "JPEG or PNG"},
		{"half a photo", "half.jpg", photo(t, 640, 480)[:900], ""},
		{"no photo", "none.jpg", nil, "Choose a photo"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := engineer.entries(id)
			refused(t, engineer.upload(upload.action, upload.values, "photo", c.file, c.content), c.sentence)
			sameEntries(t, before, engineer.entries(id))
		})
	}
}

// otherSites: somebody who works at the other site alone is told that there is
// no such run, whichever way they ask.
func otherSites(t *testing.T, a *app, id string) {
	t.Helper()
	admin := visitAs(t, a, "luca")
	grants := regexp.MustCompile(`value="(engineer:[1-9]\d*)"`).FindAllStringSubmatch(admin.reads("/people").body, -1)
	adding := admin.form("/people", "form[action='/people']").with("name", "Tove Harrow", "login", "tove", "roles", grants[1][1],
		"password", a.password, "code", a.code(t, "luca"))
	invited := admin.send(adding.action, adding.values)
	if invited.status != http.StatusOK {
		t.Fatalf("nobody is invited: %d %v", invited.status, invited.sentences())
	}
	code := strings.TrimSpace(invited.document().Find(".code-once").Text())
	stranger := visit(t, a)
	if got := stranger.send("/invite", url.Values{"code": {code}, "password": {password}}); got.status != http.StatusSeeOther {
		t.Fatalf("the invitation is not taken: %d %v", got.status, got.sentences())
	}
	engineer := visitAs(t, a, "marit")
	before := engineer.entries(id)
	for _, page := range []string{"", "/logbook", "/logbook.json", "/logbook.csv", "/reading", "/fault", "/more", "/pen", "/submit", "/review", "/events", "/entries/1/correction", "/abandon"} {
		t.Run("another site's run, "+page, func(t *testing.T) {
			if got := stranger.get("/runs/" + id + page); got.status != http.StatusNotFound {
				t.Errorf("answers %d", got.status)
			}
		})
	}
	for page, fields := range map[string]url.Values{
		"/entries": {"id": {"01970000-0000-7000-8000-000000000001"}, "form": {"note"}, "kind": {"note"}, "text": {"hello"}},
		"/pen":     {"note": {"mine now"}},
		"/abandon": {"reason": {"mine now"}},
		"/submit":  {"head": {"00"}, "nonce": {"01970000-0000-7000-8000-000000000002"}, "password": {password}},
	} {
		t.Run("another site's run, POST "+page, func(t *testing.T) {
			got := stranger.send("/runs/"+id+page, fields)
			if got.status != http.StatusNotFound {
				t.Errorf("answers %d: %v", got.status, got.sentences())
			}
		})
	}
	sameEntries(t, before, engineer.entries(id))
}

// refused wants a refusal with one plain sentence.
func refused(t *testing.T, got answer, part string) {
	t.Helper()
	if got.status != http.StatusUnprocessableEntity && got.status != http.StatusRequestEntityTooLarge {
		t.Errorf("it answers %d", got.status)
	}
	said := got.sentences()
	if len(said) != 1 {
		t.Fatalf("it says %d sentences: %q", len(said), said)
	}
	first := []rune(said[0])[0]
	if !strings.HasSuffix(said[0], ".") || first != '“' && strings.ToUpper(string(first)) != string(first) || !strings.Contains(said[0], part) {
		t.Errorf("it says %q, and should speak of %q", said[0], part)
	}
	for _, inside := range []string{"sql", "json:", "strconv", "nil", "panic", "$."} {
		if strings.Contains(strings.ToLower(said[0]), inside) {
			t.Errorf("it shows what is inside: %q", said[0])
		}
	}
}

// opens starts a run at a free unit and gives its id.
func (v *visitor) opens(unit, procedure string) string {
	v.t.Helper()
	f := v.form("/runs/new", "form[action='/runs']").with("unit", unit, "procedure", procedure)
	got := v.send(f.action, f.values)
	if got.status != http.StatusSeeOther {
		v.t.Fatalf("no run at %s: %d %v", unit, got.status, got.sentences())
	}
	return strings.TrimPrefix(got.header.Get("Location"), "/runs/")
}

// entries are the entries of a run, as they are exported.
func (v *visitor) entries(run string) []any {
	v.t.Helper()
	var book map[string]any
	if err := json.Unmarshal([]byte(v.reads("/runs/"+run+"/logbook.json").body), &book); err != nil {
		v.t.Fatal(err)
	}
	entries, _ := book["entries"].([]any)
	return entries
}

func sameEntries(t *testing.T, before, after []any) {
	t.Helper()
	if len(before) != len(after) || len(before) > 0 && !reflect.DeepEqual(before, after) {
		t.Errorf("something was stored: %s", fmt.Sprint(after[min(len(before), len(after)):]...))
	}
}

func movingPicture(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := gif.Encode(&out, image.NewPaletted(image.Rect(0, 0, 32, 32), palette.Plan9), nil); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
