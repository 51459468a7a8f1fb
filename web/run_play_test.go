package web_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

// bench is a site with a second engineer, an approved procedure, and a clock
// that the test moves.
type bench struct {
	*site
	clock time.Time
	run   commissioning.RunID
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{site: newSite(t), clock: time.Now().Truncate(time.Minute).Add(-3 * time.Hour)}
	b.screens.Now = func() time.Time { return b.clock }
	b.add("mate", commissioning.Grant{Role: commissioning.Engineer, Site: b.works.ID})
	shipped, err := commissioning.ShippedProcedures()
	b.must(err)
	for _, yaml := range shipped {
		if strings.Contains(string(yaml), "key: return-to-service") {
			_, err = b.acts.AddProcedure(t.Context(), nil, yaml, false, b.clock)
			b.must(err)
		}
	}
	by := act.Signing{Proof: act.Proof{Password: password, Code: b.code()}}
	b.must(b.acts.ApproveProcedure(t.Context(), b.people["quality"], "return-to-service", 1, by, b.clock))
	return b
}

// start opens a run through the form, as an engineer does.
func (b *bench) start(who *browser) {
	b.t.Helper()
	page := who.get(urls.RunStartPattern).page()
	a := who.post(urls.RunsPattern, "id", page.Find("input[name=id]").AttrOr("value", ""),
		"unit", "QU-01", "procedure", "return-to-service/1", "bench", "")
	if a.status != http.StatusSeeOther {
		b.t.Fatalf("no run: %d %s", a.status, a.text())
	}
	b.run = commissioning.RunID(strings.TrimPrefix(a.header.Get("Location"), "/runs/"))
}

func (b *bench) pass(d time.Duration) { b.clock = b.clock.Add(d) }

// entries is how many the run holds.
func (b *bench) entries() int {
	b.t.Helper()
	n, err := strconv.Atoi(b.text("select count(*)::text from settlemark.entries where run_id = '" + string(b.run) + "'"))
	b.must(err)
	return n
}

// form finds one form of a page by its name, with what stands in it.
func form(t testing.TB, page *goquery.Document, name string) url.Values {
	t.Helper()
	f := page.Find("form[data-form='" + name + "']")
	if f.Length() == 0 {
		t.Fatalf("no form %q on the page: %s", name, strings.Join(strings.Fields(page.Find("main").Text()), " "))
	}
	return fields(f.First())
}

func fields(f *goquery.Selection) url.Values {
	values := url.Values{}
	f.Find("input[name],textarea[name],select[name]").Each(func(_ int, e *goquery.Selection) {
		name, value := e.AttrOr("name", ""), e.AttrOr("value", "")
		switch {
		case goquery.NodeName(e) == "select":
			chosen := e.Find("option[selected]")
			if chosen.Length() == 0 {
				chosen = e.Find("option").First()
			}
			values.Set(name, chosen.AttrOr("value", ""))
			return
		case goquery.NodeName(e) == "textarea":
			value = e.Text()
		case e.AttrOr("type", "") == "radio" || e.AttrOr("type", "") == "checkbox":
			if _, ticked := e.Attr("checked"); !ticked {
				return
			}
		}
		values.Set(name, value)
	})
	return values
}

// send posts a form of a page with some fields changed.
func (b *bench) send(who *browser, page, name string, pairs ...string) answer {
	b.t.Helper()
	values := form(b.t, who.get(page).page(), name)
	for i := 0; i+1 < len(pairs); i += 2 {
		values.Set(pairs[i], pairs[i+1])
	}
	return who.do(http.MethodPost, urls.Entries(b.run), values)
}

// taken fails the test when a form was not taken.
func (a answer) taken() answer {
	a.t.Helper()
	if a.status != http.StatusSeeOther {
		a.t.Fatalf("not taken, %d: %s", a.status, a.text())
	}
	return a
}

// photo posts a file with the form of that name.
func (b *bench) photo(who *browser, page, name, file string, data []byte) answer {
	b.t.Helper()
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for field, values := range form(b.t, who.get(page).page(), name) {
		if field != "photo" {
			b.must(parts.WriteField(field, values[0]))
		}
	}
	part, err := parts.CreateFormFile("photo", file)
	b.must(err)
	_, err = part.Write(data)
	b.must(err)
	b.must(parts.Close())
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, who.base+urls.Photos(b.run), &body)
	b.must(err)
	r.Header.Set("Content-Type", parts.FormDataContentType())
	response, err := who.http.Do(r)
	b.must(err)
	defer response.Body.Close()
	var text bytes.Buffer
	_, err = text.ReadFrom(response.Body)
	b.must(err)
	return answer{b.t, response.StatusCode, response.Header, text.String()}
}

func picture(t testing.TB, width, height int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for x := range width {
		img.Set(x, height/2, color.Black)
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// answer fills in one line by what its form asks, a minute later.
func (b *bench) answer(who *browser, line string) {
	b.t.Helper()
	b.pass(time.Minute)
	page := who.get(urls.Run(b.run)).page()
	f := page.Find("form[data-form='" + line + "']").First()
	if f.Length() == 0 {
		b.t.Fatalf("line %s has no form", line)
	}
	values := fields(f)
	switch {
	case f.AttrOr("enctype", "") != "" || f.Closest(".sample").Length() > 0:
		photo := page.Find("#line-"+line+" form[enctype]").AttrOr("data-form", "")
		b.photo(who, urls.Run(b.run), photo, "a.png", picture(b.t, 64, 48)).taken()
		if photo != line {
			b.send(who, urls.Run(b.run), line, "text", "L5 0412 B").taken()
		}
		return
	case values.Get("kind") == "load":
		code := "K-20M"
		if strings.Contains(f.Text(), "takes K-20.") {
			code = "K-20"
		}
		set(values, "fluid", code, "fluid_again", code, "lot", "5521", "expires", b.clock.AddDate(0, 6, 0).Format(time.DateOnly), "level_percent", "90")
	case values.Get("kind") == "drain":
		set(values, "volume_ml", "205,5")
	case values.Has("value"):
		set(values, "value", "301")
	case values.Has("text"):
		set(values, "text", "BP-118")
	}
	f.Find("input[type=radio]").First().Each(func(_ int, e *goquery.Selection) {
		values.Set(e.AttrOr("name", ""), e.AttrOr("value", ""))
	})
	who.do(http.MethodPost, urls.Entries(b.run), values).taken()
}

func set(values url.Values, pairs ...string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		values.Set(pairs[i], pairs[i+1])
	}
}

// lines of the procedure in order, up to the section of that title.
func (b *bench) until(who *browser, title string) {
	b.t.Helper()
	p, err := b.db.Procedure(b.t.Context(), "return-to-service", 1)
	b.must(err)
	for _, section := range p.Sections {
		if section.Title == title {
			return
		}
		for _, step := range section.Steps {
			if step.Ask != commissioning.AskGate {
				b.answer(who, step.ID)
			}
		}
	}
}

// reads types one reading on the pad.
func (b *bench) reads(who *browser, quantity, value string, pairs ...string) answer {
	b.t.Helper()
	field := "value"
	if value == "true" || value == "false" {
		field = "state"
	}
	return b.send(who, urls.Reading(b.run, quantity), "reading", append([]string{field, value}, pairs...)...)
}

// reads fails the test when what is shown on the page does not say the words:
// hidden sections and script pieces do not count.
func (a answer) reads(words ...string) answer {
	a.t.Helper()
	doc := a.page()
	doc.Find("[hidden],head,script").Remove()
	text := strings.Join(strings.Fields(doc.Text()), " ")
	for _, w := range words {
		if !strings.Contains(text, w) {
			a.t.Errorf("the page does not show %q: %.900s", w, text)
		}
	}
	return a
}
