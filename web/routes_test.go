package web_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/web"
)

// passing is one visitor of the table of routes.
type passing struct {
	name string
	who  commissioning.Person // without ID: not signed in
	b    *browser
}

// visitors are one person a role at the works, one of another site, one signed out.
func (s *site) visitors(t *testing.T, works, elsewhere commissioning.SiteID) []passing {
	t.Helper()
	s.people = map[string]commissioning.Person{}
	luca, err := s.acts.SignIn(t.Context(), act.Claim{
		Login: "luca", Password: demo.Everybody().Password, Code: s.demoCode(), Address: "192.0.2.1",
	}, time.Now())
	s.must(err)
	s.admin = luca
	s.adminProof = func() act.Signing {
		return act.Signing{Proof: act.Proof{Password: demo.Everybody().Password, Code: s.demoCode()}, Nonce: uuid.NewString()}
	}
	all := []passing{{"nobody", commissioning.Person{}, s.browser()}}
	for name, grants := range map[string][]commissioning.Grant{
		"engineer":         {{Role: commissioning.Engineer, Site: works}},
		"supervisor":       {{Role: commissioning.Supervisor, Site: works}},
		"quality":          {{Role: commissioning.Quality}},
		"administrator":    {{Role: commissioning.Administrator}},
		"of_another_site":  {{Role: commissioning.Engineer, Site: elsewhere}, {Role: commissioning.Supervisor, Site: elsewhere}},
		"without_any_role": {},
	} {
		all = append(all, passing{name, s.add(name, grants...), s.as(name)})
	}
	s.add("throwaway")
	return all
}

// Every route of the router, as every role, in every state of a run. What a
// role may is taken from the table in internal/commissioning; a route that the
// table does not know fails.
func (s *site) permitted(t *testing.T) {
	works := s.siteID("select min(site_id)::text from settlemark.units")
	elsewhere := s.siteID("select max(id)::text from settlemark.sites")
	visitors := s.visitors(t, works, elsewhere)
	spare := s.text(fmt.Sprintf("select min(id::text) from settlemark.runs where state = 'open' and site_id = %d", works))
	s.must(s.acts.Abandon(t.Context(), s.people["supervisor"], commissioning.RunID(spare), "the bench is needed", time.Now()))
	log := &strings.Builder{}
	before := slog.Default()
	slog.SetDefault(slog.New(slog.NewJSONHandler(&locked{w: log}, nil)))
	defer slog.SetDefault(before)
	evidence := s.text(evidenceNow)
	tried, refused := 0, 0
	for _, route := range web.Routes(s.screens) {
		if route.Action == "" && !route.Open {
			t.Errorf("%s %s is not in the table of actions", route.Method, route.Pattern)
			continue
		}
		if route.Open || route.Action == commissioning.SignedIn {
			continue // nothing is refused there but by being signed out, which TestPages tries
		}
		for _, names := range s.names(route.Pattern, works) {
			path := names.Replace(route.Pattern)
			for _, v := range visitors {
				want := expected(route, v.who, works)
				if want == "pass" && (strings.HasSuffix(path, "/events") || route.Method == http.MethodPost && strings.Contains(path, "/pen")) {
					continue // a stream goes on; the pen would be taken
				}
				log.Reset()
				a := v.b.do(route.Method, path, nil)
				if got := met(a, want); got != want {
					t.Errorf("%s %s as %s: %d, the table says %s: %.200s", route.Method, path, v.name, a.status, want, a.text())
				}
				if tried++; want == "no" || want == "missing" {
					refused++
					isLogged(t, log.String(), route.Method, path, v)
				}
			}
		}
	}
	if after := s.text(evidenceNow); after != evidence {
		t.Errorf("forms with nothing in them changed the record: %s, then %s", evidence, after)
	}
	fmt.Printf("figure: %d requests, %d refused, each as the table says and logged\n", tried, refused)
	if tried < 600 || refused < 250 {
		t.Errorf("only %d were tried and %d refused", tried, refused)
	}
}

const evidenceNow = `select concat_ws(' ', (select count(*) from settlemark.entries), (select count(*) from settlemark.signatures),
  (select count(*) from settlemark.releases), (select count(*) from settlemark.returns), (select count(*) from settlemark.certificate_status),
  (select string_agg(state || round || pen || seq, ' ' order by number) from settlemark.runs where unit not in
    (select unit from settlemark.logger_units)))`

func (s *site) siteID(query string) commissioning.SiteID {
	s.t.Helper()
	var id commissioning.SiteID
	_, err := fmt.Sscan(s.text(query), &id)
	s.must(err)
	return id
}

// names fills in a pattern with things of the works: a run in each state, or once.
func (s *site) names(pattern string, works commissioning.SiteID) []*strings.Replacer {
	number := s.text(fmt.Sprintf("select max(number) from settlemark.releases where site_id = %d", works))
	tag := s.text(fmt.Sprintf("select max(tag) from settlemark.units where site_id = %d", works))
	logger := s.text(fmt.Sprintf("select min(id) from settlemark.loggers where site_id = %d", works))
	person := s.text("select id from settlemark.persons where login = 'throwaway'")
	fill := func(run string) *strings.Replacer {
		return strings.NewReplacer("{run}", run, "{number}", number, "{tag}", tag, "{person}", person, "{key}", "return-to-service",
			"{revision}", "1", "{seq}", "1", "{sha256}", strings.Repeat("0", 64), "{draft}", nowhere, "{part}", "gates", "{line}", nowhere,
			"{logger}", logger, "{token}", "aaaaaaaa")
	}
	if !strings.Contains(pattern, "{run}") {
		return []*strings.Replacer{fill("")}
	}
	var all []*strings.Replacer
	for _, state := range []string{"open", "submitted", "released", "abandoned"} {
		run := s.text(fmt.Sprintf("select coalesce(max(id::text), '') from settlemark.runs where state = '%s' and site_id = %d", state, works))
		if run == "" {
			s.t.Fatalf("no run of the works is %s", state)
		}
		all = append(all, fill(run))
	}
	return all
}

const nowhere = "01890000-0000-7000-8000-00000000dead"

// expected is what the table says of a route: "in" for the sign-in page, "no",
// "missing" for what is of another site, "pass".
func expected(route web.Route, p commissioning.Person, works commissioning.SiteID) string {
	ofRun := strings.Contains(route.Pattern, "{run}")
	switch {
	case p.ID == "":
		return "in"
	case ofRun && !p.Reads(works):
		return "missing"
	case ofRun && p.May(route.Action, works) != nil:
		return "no"
	case p.MayAnywhere(route.Action) != nil:
		return "no"
	case strings.Contains(route.Pattern, "{number}") && !p.Reads(works):
		return "missing"
	case strings.Contains(route.Pattern, "{tag}") && !p.Reads(works) && !p.Holds(commissioning.Administrator):
		return "missing"
	}
	return "pass"
}

// met says how the answer was meant, as far as it can be told from it.
func met(a answer, want string) string {
	switch {
	case a.status == http.StatusSeeOther && strings.HasPrefix(a.header.Get("Location"), "/sign-in"):
		return "in"
	case a.status == http.StatusForbidden && want == "in" && strings.Contains(a.text(), "sign-in has ended"):
		return "in"
	case a.status == http.StatusForbidden && want == "pass" && strings.Contains(a.text(), "Type your own reading"):
		return "pass" // the blind reading comes first; the table allows it
	case a.status == http.StatusForbidden && strings.TrimSpace(a.text()) != "":
		return "no"
	case a.status == http.StatusNotFound && want != "pass":
		return "missing"
	case a.status < 500 || a.status == http.StatusServiceUnavailable:
		return "pass"
	}
	return "broken"
}

// isLogged wants one line that says who was refused what.
func isLogged(t *testing.T, log, method, path string, v passing) {
	t.Helper()
	for line := range strings.Lines(log) {
		var said struct{ Msg, Person, Method, Path, Why string }
		if json.Unmarshal([]byte(line), &said) == nil && said.Msg == "refused" && said.Person == string(v.who.ID) &&
			said.Method == method && path == said.Path && said.Why != "" {
			return
		}
	}
	t.Errorf("%s %s as %s: the refusal is not in the log: %s", method, path, v.name, log)
}

// What is of another site answers as what does not exist: same status, same words.
func (s *site) otherSite(t *testing.T) {
	works := s.siteID("select min(site_id)::text from settlemark.units")
	b := s.as("of_another_site")
	tried := 0
	for _, route := range web.Routes(s.screens) {
		if !strings.Contains(route.Pattern, "{run}") && !strings.Contains(route.Pattern, "{tag}") && !strings.Contains(route.Pattern, "{number}") {
			continue
		}
		none := strings.NewReplacer("{run}", nowhere, "{number}", "C-9999", "{tag}", "ZZ-99", "{seq}", "1", "{sha256}", strings.Repeat("0", 64)).Replace(route.Pattern)
		missing := b.do(route.Method, none, nil)
		for _, names := range s.names(route.Pattern, works) {
			theirs := b.do(route.Method, names.Replace(route.Pattern), nil)
			if tried++; theirs.status != missing.status || theirs.text() != missing.text() || theirs.status == http.StatusOK {
				t.Errorf("%s %s answers %d %q, what does not exist %d %q", route.Method, route.Pattern, theirs.status, theirs.text(), missing.status, missing.text())
			}
		}
	}
	fmt.Printf("figure: %d addresses of another site, each answers as what does not exist\n", tried)
}
