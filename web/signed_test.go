package web_test

import (
	"net/http"
	"strings"
	"testing"
)

// signedWords are what a signature says, as one row of text for each.
const signedWords = `
select string_agg(concat_ws('|', name, role, meaning, method, substr(encode(head, 'hex'), 1, 16)), E'\n' order by kind desc)
from settlemark.signatures where run_id = '%s' and round = (select round from settlemark.runs where id = '%s')`

// Name, role, meaning, instant with zone, method and head stand wherever a
// signature is shown (21 CFR 11.50).
func (s *site) manifest(t *testing.T) {
	run := s.text(`select run::text from settlemark.certificate_rows where number = 'C-0001'`)
	unit := s.text(`select unit from settlemark.certificate_rows where number = 'C-0001'`)
	signed := strings.Split(s.text(strings.ReplaceAll(signedWords, "%s", run)), "\n")
	if len(signed) != 2 {
		t.Fatalf("signatures: %v", signed)
	}
	quality := s.demoAs("keiko")
	for _, path := range []string{
		"/runs/" + run, "/runs/" + run + "/review", "/runs/" + run + "/logbook", "/certificates/C-0001", "/units/" + unit,
		"/runs/" + run + "/logbook.csv", "/runs/" + run + "/logbook.json",
	} {
		t.Run(path, func(t *testing.T) {
			body := quality.get(path).body
			for _, words := range signed {
				for _, word := range strings.Split(words, "|") {
					if !strings.Contains(body, word) {
						t.Errorf("does not show %q", word)
					}
				}
			}
			if !strings.Contains(body, "UTC") && !strings.Contains(body, `Z"`) && !strings.Contains(body, "Z,") {
				t.Error("shows no zone")
			}
		})
	}
	t.Run("the head is a mark that the eye can compare", func(t *testing.T) {
		for _, path := range []string{"/runs/" + run, "/runs/" + run + "/logbook", "/certificates/C-0001"} {
			if quality.get(path).page().Find(".signature svg").Length() < 2 {
				t.Errorf("%s shows none", path)
			}
		}
	})
}

// A change under a signature, by somebody with every right on the database,
// shows on every page of the record, and nothing can be signed on top.
func (s *site) changedRecord(t *testing.T) {
	const sentence = "This record has been changed since it was signed."
	quality, supervisor := s.demoAs("keiko"), s.demoAs("anwen")
	waiting := s.text(awaiting)
	released := s.text(`select run::text from settlemark.certificate_rows where number = 'C-0001'`)
	pages := []string{"/runs/" + released, "/runs/" + released + "/review", "/runs/" + released + "/logbook", "/certificates/C-0001"}
	for _, path := range append(pages, "/runs/"+waiting+"/review") {
		if strings.Contains(quality.get(path).body, sentence) {
			t.Fatalf("%s says so of a whole record", path)
		}
	}
	meddle := func(by string) {
		s.change(`alter table settlemark.entries disable trigger append_only;
			update settlemark.entries set received_at = received_at + interval '` + by + `' where seq = 3 and run_id in ('` + waiting + `', '` + released + `');
			alter table settlemark.entries enable always trigger append_only`)
	}
	meddle("1 hour")
	defer meddle("-1 hour")
	for _, path := range append(pages, "/runs/"+waiting+"/review") {
		quality.get(path).wants(http.StatusOK, sentence)
	}
	quality.get("/runs/"+released).wants(http.StatusOK, "entry 3")
	t.Run("the signature is locked, and refused when it is sent nevertheless", func(t *testing.T) {
		supervisor.get("/runs/" + waiting + "/review").reads("Nothing can be signed on top of it")
		head := s.text(`select encode(head, 'hex') from settlemark.runs where id = '` + waiting + `'`)
		supervisor.post("/runs/"+waiting+"/countersign", "head", head, "nonce", "n-1", "password", "jam jars of july", "code", s.demoCode()).wants(http.StatusConflict, "changed since")
	})
}
