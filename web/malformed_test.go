package web_test

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"

	"settlemark/internal/trial"
	"settlemark/web"
)

// junk goes into addresses, fields and bodies.
var junk = []string{
	"", "0", "-1", "99999999999999999999", "1e309", "NaN", "%00", "%0d%0a", "..%2f..%2fetc%2fpasswd", "%ff%fe", "%f0%9f%92%a9",
	"'", "\\", "%27%20or%201%3D1--", "%3Cscript%3E", "01890000-0000-7000-8000-00000000dead", "null", "[]", "%E2%80%AE", strings.Repeat("a", 3000),
}

// bodies are no form and no JSON that anybody would send.
var bodies = []string{
	"", "{", "[", "null", `{"id":1}`, `{"id":"x","id":"y"}`, "\x00\x01\x02", "\xff\xfe", strings.Repeat("[", 10_000), strings.Repeat(`{"a":`, 10_000),
	`{"kind":"note","text":"` + strings.Repeat("a", 300_000) + `"}`, `{"observed_at":"9999-99-99T99:99:99Z","kind":"reading","value":"1e999999999"}`,
	"id=%zz", "a=b&a=c;d", strings.Repeat("a=1&", 20_000), "value=%00&text=%00&id=%00&form=%00&kind=%00",
}

var mediaTypes = []string{
	"", "application/json", "application/x-www-form-urlencoded", "multipart/form-data", "multipart/form-data; boundary=x", "text/plain", ";;;", "image/jpeg",
}

func one(r *rand.Rand, of []string) string { return of[r.IntN(len(of))] }

// Every route is sent what nobody would send: it answers with a refusal, never
// with an error of its own, and nothing panics.
func TestMalformed(t *testing.T) {
	count := trial.Times(1500, 10_000)
	s := newSite(t)
	routes := web.Routes(s.screens)
	r := rand.New(rand.NewPCG(11, 10_000))
	senders := []*browser{s.as("nobody"), s.as("engineer"), s.as("quality"), s.as("administrator")}
	statuses, sent := map[int]int{}, 0
	for n := range count {
		route := routes[r.IntN(len(routes))]
		if strings.HasSuffix(route.Pattern, "/events") || strings.Contains(route.Pattern, "sign-out") || strings.Contains(route.Pattern, "passkey") {
			continue // endless answers, and what ends the sitting
		}
		path := parameter.ReplaceAllStringFunc(route.Pattern, func(string) string { return one(r, junk[1:]) })
		path = strings.ReplaceAll(path, "*", one(r, junk))
		if r.IntN(2) == 0 {
			path += "?page=" + one(r, junk) + "&" + one(r, junk) + "=" + one(r, junk)
		}
		body := ""
		if route.Method == http.MethodPost {
			body = one(r, bodies)
		}
		a := senders[r.IntN(len(senders))].request(route.Method, path, body, "Content-Type", one(r, mediaTypes), "HX-Request", one(r, []string{"", "true"}))
		statuses[a.status]++
		sent++
		if a.status >= 500 && a.status != http.StatusServiceUnavailable {
			t.Errorf("%d. %s %.200s with %.60q: %d %s", n, route.Method, path, body, a.status, a.text())
		}
	}
	log := s.log.String()
	for _, word := range []string{`"msg":"unforeseen"`, "panic"} {
		if strings.Contains(log, word) {
			t.Errorf("the log says %s", word)
		}
	}
	fmt.Printf("figure: %d requests that nobody would send, answered by status %v\n", sent, statuses)
	s.as("engineer").get("/units").wants(http.StatusOK)
}
