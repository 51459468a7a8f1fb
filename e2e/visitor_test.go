package e2e_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
)

// visitor is somebody with an HTTP client in place of a browser: it sends
// forms as they stand on the pages, and keeps its cookie.
type visitor struct {
	t      *testing.T
	base   string
	cookie *http.Cookie
	client *http.Client
}

// answer is what came back.
type answer struct {
	status int
	header http.Header
	body   string
}

func visit(t *testing.T, a *app) *visitor {
	t.Helper()
	client := &http.Client{
		Transport:     &http.Transport{MaxIdleConnsPerHost: 16},
		Timeout:       30 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	t.Cleanup(client.CloseIdleConnections)
	return &visitor{t: t, base: a.url, client: client}
}

// visitAs is somebody signed in. Everybody signs in once: the program slows
// down whoever tries often.
func visitAs(t *testing.T, a *app, login string) *visitor {
	t.Helper()
	a.mu.Lock()
	defer a.mu.Unlock()
	v := visit(t, a)
	if a.signedIn[login] == nil {
		v.signIn(a, login)
		a.signedIn[login] = v.cookie
	}
	v.cookie = a.signedIn[login]
	return v
}

func (v *visitor) signIn(a *app, login string) {
	v.t.Helper()
	got := v.send("/sign-in", url.Values{"login": {login}, "password": {a.password}, "code": {a.code(v.t, login)}})
	if got.status != http.StatusSeeOther {
		v.t.Fatalf("%s can't sign in: %d %s", login, got.status, got.sentences())
	}
}

// try sends one request and gives the answer, or why there was none.
func (v *visitor) try(ctx context.Context, method, path, mediaType string, body io.Reader) (answer, error) {
	r, err := http.NewRequestWithContext(ctx, method, v.base+path, body)
	if err != nil {
		return answer{}, err
	}
	if mediaType != "" {
		r.Header.Set("Content-Type", mediaType)
	}
	if v.cookie != nil {
		r.AddCookie(&http.Cookie{Name: v.cookie.Name, Value: v.cookie.Value})
	}
	response, err := v.client.Do(r)
	if err != nil {
		return answer{}, err
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	for _, c := range response.Cookies() {
		if strings.HasSuffix(c.Name, "settlemark") {
			v.cookie = c
		}
	}
	return answer{response.StatusCode, response.Header, string(text)}, err
}

func (v *visitor) request(method, path, mediaType string, body io.Reader) answer {
	v.t.Helper()
	got, err := v.try(v.t.Context(), method, path, mediaType, body)
	if err != nil {
		v.t.Fatalf("%s %s: %v", method, path, err)
	}
	return got
}

// get reads a page.
func (v *visitor) get(path string) answer {
	v.t.Helper()
	return v.request(http.MethodGet, path, "", nil)
}

// reads reads a page that must be there.
func (v *visitor) reads(path string) answer {
	v.t.Helper()
	got := v.get(path)
	if got.status != http.StatusOK {
		v.t.Fatalf("GET %s answers %d: %s", path, got.status, got.sentences())
	}
	return got
}

// send posts a form.
func (v *visitor) send(path string, form url.Values) answer {
	v.t.Helper()
	return v.request(http.MethodPost, path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// upload posts a form with one file.
func (v *visitor) upload(path string, form url.Values, field, name string, content []byte) answer {
	v.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for key, values := range form {
		for _, value := range values {
			if err := w.WriteField(key, value); err != nil {
				v.t.Fatal(err)
			}
		}
	}
	part, err := w.CreateFormFile(field, name)
	if err != nil {
		v.t.Fatal(err)
	}
	if _, err := part.Write(content); err != nil {
		v.t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		v.t.Fatal(err)
	}
	return v.request(http.MethodPost, path, w.FormDataContentType(), &body)
}

// form is a form as it stands on a page: where it goes and what it would send
// if nobody touched it.
type form struct {
	action string
	values url.Values
}

// form finds a form of a page by a CSS selector.
func (v *visitor) form(path, selector string) form {
	v.t.Helper()
	f, err := v.reads(path).form(selector)
	if err != nil {
		v.t.Fatalf("on %s: %v", path, err)
	}
	return f
}

func (a answer) document() *goquery.Document {
	d, err := goquery.NewDocumentFromReader(strings.NewReader(a.body))
	if err != nil {
		return &goquery.Document{Selection: &goquery.Selection{}}
	}
	return d
}

func (a answer) form(selector string) (form, error) {
	found := a.document().Find(selector).First()
	if found.Length() == 0 {
		return form{}, fmt.Errorf("no form %s", selector)
	}
	f := form{action: found.AttrOr("action", ""), values: url.Values{}}
	found.Find("input[name], textarea[name], select[name]").Each(func(_ int, e *goquery.Selection) {
		name := e.AttrOr("name", "")
		switch {
		case e.Is("select"):
			f.values.Set(name, e.Find("option[selected]").First().AttrOr("value", e.Find("option").First().AttrOr("value", "")))
		case e.Is("textarea"):
			f.values.Set(name, e.Text())
		case e.Is("[type=file]"):
		case e.Is("[type=checkbox], [type=radio]"):
			if _, on := e.Attr("checked"); on {
				f.values.Add(name, e.AttrOr("value", "on"))
			}
		default:
			f.values.Set(name, e.AttrOr("value", ""))
		}
	})
	return f, nil
}

// with fills in fields: name, value, name, value.
func (f form) with(pairs ...string) form {
	filled := url.Values{}
	for name, values := range f.values {
		filled[name] = values
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		filled.Set(pairs[i], pairs[i+1])
	}
	return form{f.action, filled}
}

// sentences are the refusals that a page shows.
func (a answer) sentences() []string {
	var out []string
	a.document().Find("[role=alert], .plain-problem").Each(func(_ int, e *goquery.Selection) {
		e.Find("a, li, p").AddSelection(e).Each(func(_ int, part *goquery.Selection) {
			if text := strings.Join(strings.Fields(part.Text()), " "); part.Children().Not("svg, use").Length() == 0 && text != "" {
				out = append(out, text)
			}
		})
	})
	return out
}

// logbook is a run's logbook as it is exported.
type logbook struct {
	Entries []struct {
		Seq    int    `json:"seq"`
		ID     string `json:"id"`
		Kind   string `json:"kind"`
		Note   string `json:"note"`
		Text   string `json:"text"`
		Device string `json:"device"`
	} `json:"entries"`
}

func (v *visitor) logbook(run string) logbook {
	v.t.Helper()
	var book logbook
	text := v.reads("/runs/" + run + "/logbook.json").body
	if err := json.Unmarshal([]byte(text), &book); err != nil {
		v.t.Fatalf("logbook of %s: %v", run, err)
	}
	return book
}
