package web_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
)

const awaiting = `select id::text from settlemark.runs where state = 'submitted' limit 1`

// What the engineer read off the print sample of that run.
const engineersReading = `
select body ->> 'text' from (select run_id, convert_from(body, 'UTF8')::json as body from settlemark.entries) as e
where run_id = (select id from settlemark.runs where state = 'submitted' limit 1)
  and body ->> 'kind' = 'step' and body ->> 'step' like '%sample%' limit 1`

func (s *site) reviewed(t *testing.T) {
	run, reading := "/runs/"+s.text(awaiting), s.text(engineersReading)
	if reading == "" {
		t.Fatal("the demo's submitted run has no reading of its sample")
	}
	unit := s.text("select unit from settlemark.runs where '/runs/' || id = '" + run + "'")
	supervisor := s.demoAs("anwen")
	t.Run("nothing shows the engineer's reading before the supervisor's own", func(t *testing.T) {
		for _, path := range []string{"", "/review", "/logbook"} {
			a := supervisor.get(run + path).wants(http.StatusOK)
			if strings.Contains(a.body, reading) {
				t.Errorf("%s shows what the engineer read", path)
			}
		}
		supervisor.get(run+"/logbook.json").wants(http.StatusForbidden, "Type your own reading")
		supervisor.get(run+"/logbook.csv").wants(http.StatusForbidden, "Type your own reading")
		for _, path := range []string{"/trail", "/trail.csv", "/trail.json"} {
			if strings.Contains(supervisor.get(path+"?unit="+unit).body, reading) {
				t.Errorf("%s shows what the engineer read", path)
			}
		}
		if a := supervisor.get("/board"); strings.Contains(a.body, reading) {
			t.Error("the board shows what the engineer read")
		}
	})
	t.Run("the signature is locked until then", func(t *testing.T) {
		page := supervisor.get(run + "/review").page()
		if page.Find(`form[action$="/countersign"]`).Length() != 0 {
			t.Error("the signature form is open")
		}
	})
	t.Run("a return without a reason is refused and names the field", func(t *testing.T) {
		head, _ := supervisor.get(run + "/review").page().Find(`form[action$="/return"] [name=head]`).Attr("value")
		supervisor.post(run+"/return", "head", head, "reason", "").wants(http.StatusUnprocessableEntity, "Say what the engineer must do.")
	})
	t.Run("an empty reading is refused", func(t *testing.T) {
		supervisor.post(run+"/review/sample", "text", "").wants(http.StatusUnprocessableEntity)
	})
	t.Run("the own reading opens the engineer's and the signature", func(t *testing.T) {
		supervisor.post(run+"/review/sample", "text", "X 99").leadsTo(run + "/review")
		a := supervisor.get(run+"/review").wants(http.StatusOK, reading, "X 99", "The readings differ")
		form := a.page().Find(`form[action$="/countersign"]`)
		if form.Length() != 1 || form.Find("[name=mismatch]").Length() != 1 {
			t.Error("the signature form does not ask why the readings differ")
		}
	})
	t.Run("the first reading counts", func(t *testing.T) {
		supervisor.post(run+"/review/sample", "text", reading).wants(http.StatusConflict)
	})
	t.Run("a signature with a wrong password is refused, and what was typed is kept", func(t *testing.T) {
		form := supervisor.get(run + "/review").page().Find(`form[action$="/countersign"]`)
		head, _ := form.Find("[name=head]").Attr("value")
		nonce, _ := form.Find("[name=nonce]").Attr("value")
		a := supervisor.post(run+"/countersign", "head", head, "nonce", nonce, "mismatch", "smudged 9", "password", "not my password", "code", "000000")
		if a.status != http.StatusUnprocessableEntity {
			t.Errorf("status %d", a.status)
		}
		if v, _ := a.page().Find("[name=mismatch]").Attr("value"); v != "smudged 9" {
			t.Errorf("the reason is gone: %q", v)
		}
	})
	t.Run("whom a contributor gave new proofs waits a day, and the page says until when", func(t *testing.T) {
		proof := func() act.Signing {
			return act.Signing{Proof: act.Proof{Password: demo.Everybody().Password, Code: s.demoCode()}, Nonce: uuid.NewString()}
		}
		person := func(column, value string) commissioning.Person {
			p, err := s.db.Person(t.Context(), commissioning.PersonID(s.text("select id from settlemark.persons where "+column+" = '"+value+"'")))
			s.must(err)
			return p
		}
		engineer := person("id", s.text("select pen from settlemark.runs where '/runs/' || id = '"+run+"'"))
		both := slices.Concat(engineer.Grants, []commissioning.Grant{{Role: commissioning.Administrator}})
		s.must(s.acts.SetGrants(t.Context(), person("login", "luca"), engineer.ID, both, proof(), time.Now()))
		_, err := s.acts.NewInvite(t.Context(), person("id", string(engineer.ID)), person("login", "anwen").ID, act.ResetPassword, proof(), time.Now())
		s.must(err)
		a := supervisor.get(run + "/review").wants(http.StatusOK)
		a.reads("opens for you at", "gave you access or new proofs of identity less than 24 hours ago")
		if a.page().Find(`form[action$="/countersign"]`).Length() != 0 {
			t.Error("the signature form is open")
		}
		head := s.text("select encode(head, 'hex') from settlemark.runs where '/runs/' || id = '" + run + "'")
		supervisor.post(run+"/countersign", "head", head, "nonce", "w-1", "mismatch", "smudged 9", "password", demo.Everybody().Password, "code", s.demoCode()).
			wants(http.StatusForbidden, "less than 24 hours ago")
		delete(s.signed, engineer.Login) // other roles end the sessions
	})
	t.Run("the engineer of the run finds no signature to give", func(t *testing.T) {
		page := s.demoAs("marit").get(run + "/review").page()
		if page.Find(`form[action$="/countersign"], form[action$="/review/sample"]`).Length() != 0 {
			t.Error("the engineer may sign the second half")
		}
	})
}

func (s *site) boarded(t *testing.T) {
	s.demoAs("anwen").get("/board").wants(http.StatusOK, "BH-01", "BH-12")
	s.demoAs("marit").get("/board").wants(http.StatusForbidden, "Your own runs are under My runs.")
	page := s.demoAs("keiko").get("/board").page()
	if n := page.Find("a.tile").Length(); n != 12 {
		t.Errorf("%d tiles, the demo has 12 units", n)
	}
	if page.Find("#waiting a.qrow").Length() == 0 {
		t.Error("nobody waits, though a run is submitted")
	}
	t.Run("says as whom somebody was tried, to supervisors of the site", func(t *testing.T) {
		for range 5 {
			s.demoAs("yusuf").post("/account/recovery-codes", "nonce", "w", "password", "not my password", "code", "000000")
		}
		s.demoAs("yusuf").get("/board").leadsTo("/sign-in?then=%2Fboard")
		delete(s.signed, "yusuf")
		name := s.text("select name from settlemark.persons where login = 'yusuf'")
		for _, login := range []string{"anwen", "keiko"} {
			tried := s.demoAs(login).get("/board").page().Find("#tried").Text()
			if !strings.Contains(tried, "Wrong proofs of identity") || !strings.Contains(tried, name) {
				t.Errorf("%s reads %q", login, tried)
			}
		}
		elsewhere := commissioning.Person{ID: "P-9999", Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: 99}}}
		if tried, err := s.db.WrongProofs(t.Context(), elsewhere, time.Now().Add(-time.Hour)); err != nil || len(tried) != 0 {
			t.Errorf("a supervisor of another site reads %v, %v", tried, err)
		}
	})
}
