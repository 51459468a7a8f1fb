package web_test

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/demo"
)

func (s *site) afterRelease(t *testing.T) {
	t.Run("every page says the same of a certificate that an event ended", s.voidedEverywhere)
	t.Run("a release that ends soon asks to be renewed", s.renewal)
	t.Run("an event", s.eventRecorded)
	t.Run("a lot", s.lotRecalled)
}

func (s *site) voidedEverywhere(t *testing.T) {
	number := s.text(`select number from settlemark.certificate_rows where withdrawn_cause = 'move'`)
	const reason = "Void: move on"
	quality := s.demoAs("keiko")
	for page, words := range map[string][]string{
		"/certificates/" + number:                   {"Withdrawn by Yusuf Tremaine on", reason, "behind the new labeller"},
		"/certificates?status=withdrawn&unit=BH-09": {number, "Withdrawn", "Yusuf Tremaine: " + reason},
		"/units/BH-09":                              {"Nothing stands: " + number + " was withdrawn on", reason, "ended: " + number},
	} {
		quality.get(page).wants(http.StatusOK, words...)
	}
	digits := s.text(`select upper(left(encode(digest, 'hex'), 10)) from settlemark.releases where number = '` + number + `'`)
	public := s.browser().get("/verify?code="+number+"-"+digits).wants(http.StatusOK, "Withdrawn", "BH-09")
	if strings.Contains(public.text(), "Yusuf") || strings.Contains(public.text(), "labeller") {
		t.Errorf("the public page names people or reasons: %s", public.text())
	}
	if board := s.demoAs("anwen").get("/board").body; !strings.Contains(board, "BH-09</b>") || !strings.Contains(board, "no release stands") {
		t.Error("the board does not show BH-09 without a release")
	}
}

func (s *site) renewal(t *testing.T) {
	number := s.text(`select number from settlemark.certificate_rows where unit = 'BH-12'`)
	if board := s.demoAs("anwen").get("/board").page().Text(); !strings.Contains(board, number+" expires in ") {
		t.Error("the board does not say what is to be renewed")
	}
	engineer := s.demoAs("yusuf")
	for _, page := range []string{"/runs", "/units/BH-12", "/certificates?status=ending-soon", "/certificates/" + number} {
		a := engineer.get(page).wants(http.StatusOK, "expires in ")
		if a.page().Find("a[href='/runs/new?unit=BH-12']").Length() == 0 {
			t.Errorf("%s: a run is not one tap away", page)
		}
	}
	if n := listed(engineer.get("/certificates?status=ending-soon")); len(n) != 1 || n[0] != number {
		t.Errorf("ending soon: %v", n)
	}
	if a := s.demoAs("keiko").get("/certificates?status=ending-soon"); a.page().Find("a[href^='/runs/new']").Length() != 0 {
		t.Error("quality is offered a run")
	}
}

func (s *site) eventRecorded(t *testing.T) {
	number := s.text(`select number from settlemark.certificate_rows where unit = 'BH-11' and withdrawn_at is null`)
	engineer := s.demoAs("yusuf")
	paper := engineer.get("/certificates/" + number + ".pdf").body
	form := engineer.get("/units/BH-11/events").wants(http.StatusOK, number+" stands", "a shutdown of more than 14 days", "work on the fluid circuit")
	key := form.page().Find("input[name=id]").AttrOr("value", "")
	send := func(b *browser, pairs ...string) answer {
		return b.post("/units/BH-11/events", append([]string{"id", key}, pairs...)...)
	}
	t.Run("comes back with what was typed when something is missing", func(t *testing.T) {
		send(engineer, "kind", "repair", "detail", "", "happened", "").wants(http.StatusUnprocessableEntity, "Say what exactly happened")
		send(engineer, "kind", "", "detail", "x", "happened", "").wants(http.StatusUnprocessableEntity, "Choose what happened")
		ahead := time.Now().AddDate(0, 0, 2).Format("2006-01-02T15:04")
		send(engineer, "kind", "repair", "detail", "x", "happened", ahead).wants(http.StatusUnprocessableEntity, "lies ahead")
		send(engineer, "kind", "repair", "detail", "x", "happened", "noon").wants(http.StatusUnprocessableEntity, "Give day and time")
	})
	t.Run("is refused to quality and to administrators with a sentence", func(t *testing.T) {
		for _, who := range []string{"keiko", "luca"} {
			send(s.demoAs(who), "kind", "repair", "detail", "x").wants(http.StatusForbidden, "Only an engineer or a supervisor")
		}
	})
	t.Run("withdraws the certificate at once, is sent twice and stored once", func(t *testing.T) {
		send(engineer, "kind", "repair", "detail", "Print head exchanged", "happened", "").leadsTo("/units/BH-11")
		send(engineer, "kind", "repair", "detail", "Print head exchanged", "happened", "").leadsTo("/units/BH-11")
		send(engineer, "kind", "repair", "detail", "Print head cleaned", "happened", "").wants(http.StatusUnprocessableEntity, "sent before")
		engineer.get("/units/BH-11").wants(http.StatusOK, "Nothing stands: "+number+" was withdrawn", "Print head exchanged", "recorded by Yusuf Tremaine")
		if n := s.text(`select count(*)::text from settlemark.unit_events where unit = 'BH-11'`); n != "1" {
			t.Errorf("%s events are stored", n)
		}
	})
	t.Run("leaves the paper as it is", func(t *testing.T) {
		if engineer.get("/certificates/"+number+".pdf").body != paper {
			t.Error("the PDF changed")
		}
	})
}

func (s *site) lotRecalled(t *testing.T) {
	lot := s.text(`select lots[1] from settlemark.certificate_rows where unit = 'BH-07'`)
	fluid := "E-11"
	if strings.HasPrefix(lot, "E11M") {
		fluid = "E-11M"
	}
	quality := s.demoAs("keiko")
	found := quality.get("/recall?fluid="+fluid+"&lot="+strings.ToLower(lot)).wants(http.StatusOK, "BH-07", "as recorded", "released")
	key := found.page().Find("input[name=nonce]").AttrOr("value", "")
	var ticked []string
	for _, box := range found.page().Find("input[name=number][checked]").EachIter() {
		ticked = append(ticked, box.AttrOr("value", ""))
	}
	if len(ticked) == 0 {
		t.Fatal("nothing is ticked")
	}
	fields := []string{"nonce", key, "fluid", fluid, "lot", lot}
	for _, n := range ticked {
		fields = append(fields, "number", n)
	}
	t.Run("that nobody loaded is said so", func(t *testing.T) {
		quality.get("/recall?fluid=K-20&lot=none").wants(http.StatusOK, "No run has an entry of this lot")
	})
	t.Run("is recalled by quality only, with a reason and a proof", func(t *testing.T) {
		for _, who := range []string{"marit", "anwen", "luca"} {
			s.demoAs(who).post("/recall", append(fields, "reason", "x", "password", "x")...).wants(http.StatusForbidden, "Only quality")
		}
		quality.post("/recall", append(fields, "reason", "", "password", demo.Everybody().Password, "code", s.demoCode())...).wants(http.StatusUnprocessableEntity, "Say why")
		quality.post("/recall", append(fields, "reason", "x", "password", "wrong one", "code", s.demoCode())...).wants(http.StatusUnprocessableEntity, "Password or code is wrong")
		quality.post("/recall", "nonce", uuid.NewString(), "fluid", fluid, "lot", lot, "reason", "x", "password", demo.Everybody().Password).
			wants(http.StatusUnprocessableEntity, "Tick the certificates")
	})
	t.Run("withdraws all that were ticked and says which", func(t *testing.T) {
		quality.post("/recall", append(fields, "reason", "=blocked by the maker", "password", demo.Everybody().Password, "code", s.demoCode())...).wants(http.StatusSeeOther)
		after := quality.get("/recall?fluid="+fluid+"&lot="+lot+"&done="+key).wants(http.StatusOK, "Withdrawn: "+strings.Join(ticked, ", "), "0 certificates are not withdrawn")
		if after.page().Find("input[name=number]").Length() != 0 {
			t.Error("there is still something to tick")
		}
	})
	t.Run("comes as a table that no spreadsheet computes", func(t *testing.T) {
		a := quality.get("/recall.csv?fluid=" + fluid + "&lot=" + lot)
		rows, err := csv.NewReader(strings.NewReader(a.body)).ReadAll()
		if err != nil || len(rows) < 2 || len(rows[0]) != 19 {
			t.Fatalf("%d rows, %v", len(rows), err)
		}
		if !strings.Contains(a.body, "'=blocked by the maker") || !strings.Contains(a.body, "Keiko") {
			t.Errorf("the table: %s", a.body)
		}
	})
}
