package web_test

import (
	"net/http"
	"strings"
	"testing"
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
}
