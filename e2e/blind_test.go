package e2e_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
)

// tellsNothing reads everything that the supervisor can reach before they have
// typed their own reading, in every form, and looks for the engineer's.
func tellsNothing(t *testing.T, a *app, run, secret string) {
	t.Helper()
	v := visitAs(t, a, "osric")
	quality := visitAs(t, a, "quill")
	if !strings.Contains(quality.reads("/runs/"+run+"/logbook").body, secret) {
		t.Fatal("quality does not see the reading either: this test can't fail")
	}
	at := "/runs/" + run
	seen := map[string]bool{}
	queue := []string{
		"/", "/board", "/runs", at, at + "/review", at + "/logbook", at + "/logbook.json", at + "/logbook.csv",
		at + "/reading", at + "/fault", at + "/more", at + "/pen", at + "/submit", at + "/abandon", "/certificates.csv",
	}
	for n := 1; n <= len(quality.logbook(run).Entries); n++ {
		queue = append(queue, fmt.Sprintf("%s/entries/%d/correction", at, n))
	}
	for len(queue) > 0 && len(seen) < 500 {
		path := queue[0]
		queue = queue[1:]
		if seen[path] || strings.HasPrefix(path, "/assets/") {
			continue
		}
		seen[path] = true
		got := v.glance(path)
		silent(t, path, got, secret)
		queue = append(queue, got.links()...)
	}
	t.Logf("%d pages read, none tells", len(seen))
	for path, fields := range map[string]url.Values{
		at + "/countersign":    {"head": {"00"}, "nonce": {"x"}, "password": {"wrong password"}},
		at + "/return":         {"head": {"00"}, "reason": {""}},
		at + "/review/rulings": {"id": {"x"}, "ref": {"1"}, "head": {"00"}, "decision": {"accept"}, "reason": {""}},
		at + "/review/sample":  {"text": {""}},
		at + "/entries":        {"id": {"x"}, "form": {"sample"}, "kind": {"note"}, "text": {""}},
		at + "/pen":            {"note": {""}},
		at + "/submit":         {"head": {"00"}, "nonce": {"x"}, "password": {"wrong password"}},
	} {
		silent(t, "POST "+path, v.send(path, fields), secret)
	}
}

func silent(t *testing.T, where string, got answer, secret string) {
	t.Helper()
	head := fmt.Sprint(got.header)
	if strings.Contains(strings.ToUpper(got.body+head), secret) {
		t.Errorf("%s (%d) tells the engineer's reading", where, got.status)
	}
}

// glance reads a page, or the beginning of a stream.
func (v *visitor) glance(path string) answer {
	v.t.Helper()
	if !strings.HasSuffix(path, "/events") || strings.HasPrefix(path, "/units/") { // events at a unit are a page
		return v.get(path)
	}
	ctx, cancel := context.WithTimeout(v.t.Context(), 2*time.Second)
	defer cancel()
	got, err := v.try(ctx, http.MethodGet, path, "", nil)
	if err != nil && !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, io.ErrUnexpectedEOF) {
		v.t.Errorf("%s: %v", path, err)
	}
	if !strings.Contains(got.body, "data:") {
		v.t.Errorf("%s sends nothing within two seconds", path)
	}
	return got
}

// links are the addresses of this server that a page leads to.
func (a answer) links() []string {
	var out []string
	if a.status == http.StatusSeeOther {
		return append(out, a.header.Get("Location"))
	}
	if !strings.HasPrefix(a.header.Get("Content-Type"), "text/html") {
		return nil
	}
	for _, attribute := range []string{"href", "src", "sse-connect", "hx-get"} {
		a.document().Find("[" + attribute + "]").Each(func(_ int, e *goquery.Selection) {
			link, _, _ := strings.Cut(e.AttrOr(attribute, ""), "#")
			if strings.HasPrefix(link, "/") {
				out = append(out, link)
			}
		})
	}
	return out
}
