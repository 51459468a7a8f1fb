package web_test

import (
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
)

// gives checks that a form came back with what was typed, a summary that leads
// to the field, and the field described by what is wrong with it.
func (a answer) gives(field, typed, sentence string) {
	a.t.Helper()
	doc := a.page()
	if got := doc.Find("#field-"+field).AttrOr("value", ""); got != typed {
		a.t.Errorf("what was typed is lost: %q, wants %q", got, typed)
	}
	if n := doc.Find("#summary[autofocus][role=alert] a[href='#field-" + field + "']").Length(); n != 1 {
		a.t.Errorf("the summary does not lead to %s", field)
	}
	id := doc.Find("#field-"+field+"[aria-invalid=true]").AttrOr("aria-describedby", "")
	if first, _, _ := strings.Cut(id, " "); !strings.Contains(doc.Find("#"+first).Text(), sentence) {
		a.t.Errorf("%s is not described by %q", field, sentence)
	}
	a.sound("the form that came back")
}

func TestRegisters(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	t.Run("line_is_added_and_renamed", func(t *testing.T) {
		b.post("/lines", "key", "", "name", "Line 2", "site", "1").leadsTo("/lines")
		b.get("/lines").wants(200, "Line 2")
		id := s.text("select id::text from settlemark.lines where name = 'Line 2'")
		b.get("/lines?change="+id).wants(200, "Change this line")
		b.post("/lines", "key", id, "name", "Line 2 east").leadsTo("/lines")
		b.get("/lines").wants(200, "Line 2 east")
	})
	t.Run("a_line_without_a_name_comes_back_with_what_was_typed", func(t *testing.T) {
		a := b.post("/lines", "key", "", "name", "", "site", "1").wants(422)
		a.gives("name", "", "Give the line a name.")
		if v := a.page().Find("#field-site option[selected]").AttrOr("value", ""); v != "1" {
			t.Errorf("the site chosen is lost: %q", v)
		}
	})
	t.Run("an_unknown_time_zone_is_refused_and_kept_in_the_form", func(t *testing.T) {
		b.post("/sites", "key", "", "name", "Far", "address", "x", "time_zone", "Mars/Base", "paper", "A4").
			wants(422).gives("time_zone", "Mars/Base", "is no time zone")
	})
	t.Run("a_fluid_is_never_added_twice", func(t *testing.T) {
		b.post("/fluids", "key", "", "code", "K-20", "name", "Red", "position", "ink", "base", "ketone").
			wants(422).gives("code", "K-20", "There is one like this already")
		b.get("/fluids").wants(200, "Black")
	})
	t.Run("a_figure_of_a_fluid_names_its_source", func(t *testing.T) {
		k20m := []string{"key", "K-20M", "name", "Thinner", "position", "makeup", "base", "ketone", "density", "0.805"}
		b.post("/fluids", k20m...).wants(422).gives("density_source", "", "Name where this number was read")
		b.post("/fluids", append(k20m, "density_source", "data sheet of 2026-01-05")...).leadsTo("/fluids")
		b.get("/fluids").wants(200, "1 of 6")
		a := b.get("/fluids?change=K-20M").wants(200)
		if v := a.page().Find("#field-density").AttrOr("value", ""); v != "0.805" {
			t.Errorf("density %q", v)
		}
		if n := s.text("select detail from settlemark.acts where act = 'fluid saved' order by id desc limit 1"); !strings.Contains(n, "density 0.805 g/mL (data sheet of 2026-01-05)") {
			t.Errorf("the record of the change says %q", n)
		}
	})
	t.Run("a_unit_is_added_with_its_fluids_and_keeps_its_tag", func(t *testing.T) {
		b.post("/units", "tag", "QU-02", "line", "1", "serial", "8", "ink", "K-20", "makeup", "K-20M").leadsTo("/units/QU-02")
		b.post("/units", "tag", "QU-02", "line", "1", "serial", "9", "ink", "K-20", "makeup", "K-20M").
			wants(422).gives("tag", "QU-02", "There is a unit with this tag already")
		b.post("/units/QU-02", "line", "1", "serial", "80", "ink", "K-20", "makeup", "K-20M").leadsTo("/units/QU-02")
		b.get("/units/QU-02").wants(200, "80", "Unit saved", "Ada Min")
	})
	t.Run("a_make_up_is_no_ink", func(t *testing.T) {
		a := b.post("/units", "tag", "QU-03", "line", "1", "serial", "8", "ink", "K-20M", "makeup", "K-20M").wants(422)
		a.gives("ink", "", "is not in the list of fluids for this place")
	})
	t.Run("an_instrument_whose_calibration_has_run_out_is_marked", func(t *testing.T) {
		v12 := []string{"key", "", "code", "V-12", "site", "1", "name", "Viscometer", "serial", "88 102", "quantity", "viscosity", "uncertainty", "0.05", "unit", "mPa.s", "k", "2"}
		b.post("/instruments", append(v12, "due", "soon")...).wants(422).gives("due", "soon", "Type the day as year-month-day")
		b.post("/instruments", append(v12, "due", "2001-02-03")...).leadsTo("/instruments")
		b.get("/instruments").wants(200, "V-12", "0.05 mPa·s, k = 2", "2001-02-03, overdue")
		b.post("/instruments", append(v12, "due", "2001-02-03")...).wants(422).gives("code", "V-12", "This site has an instrument with this code")
		id := s.text("select id::text from settlemark.instruments where code = 'V-12'")
		a := b.post("/instruments", "key", id, "name", "Viscometer", "serial", "88 102", "quantity", "viscosity", "uncertainty", "0.05", "unit", "mPa.s", "k", "2", "due", "2999-01-31")
		a.leadsTo("/instruments")
		if page := b.get("/instruments").wants(200, "2999-01-31"); strings.Contains(page.text(), "overdue") {
			t.Error("a calibration that stands is marked")
		}
	})
	t.Run("a_unit_of_another_site_is_not_there", func(t *testing.T) {
		elsewhere, err := s.acts.SaveSite(t.Context(), s.admin, commissioning.Site{Name: "Elsewhere", TimeZone: "Europe/Lisbon", Paper: "A4"}, time.Now())
		s.must(err)
		s.add("stranger", commissioning.Grant{Role: commissioning.Engineer, Site: elsewhere.ID})
		a := s.as("stranger").get("/units/QU-01").wants(404)
		none := s.as("stranger").get("/units/NO-99").wants(404)
		if a.text() != none.text() {
			t.Errorf("the two answers differ: %q, %q", a.text(), none.text())
		}
	})
	t.Run("text_is_shown_as_text", func(t *testing.T) {
		polyglot := `"><img src=x onerror=alert(1)>{{7*7}}<script>alert(1)</script>`
		b.post("/lines", "key", "", "name", polyglot, "site", "1")
		a := b.get("/lines")
		a.sound("a list with a hostile name")
		if !strings.Contains(a.text(), `<script>alert(1)</script>`) {
			t.Error("the name is not shown as it was typed")
		}
	})
}

func TestPeople(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	t.Run("a_new_person_gets_a_code_once_and_sets_a_password_with_it", func(t *testing.T) {
		a := b.post("/people", s.proven("name", "Nora Ames", "login", "nora", "roles", "engineer:1")...).wants(200, "Nora Ames")
		code := strings.TrimSpace(a.page().Find(".code-once").Text())
		if code == "" || strings.Contains(b.get("/people").body, code) || strings.Contains(s.log.String(), code) {
			t.Errorf("code %q is missing, or stands elsewhere too", code)
		}
		nora := s.browser()
		nora.post("/invite", "code", code, "password", "short").wants(422, "12")
		nora.post("/invite", "code", code, "password", "a quite good long one").leadsTo("/account/second-factors")
		nora.get("/account").wants(200, "Nora Ames", "Engineer, Quince Works")
		s.browser().post("/invite", "code", code, "password", "another quite good one").wants(422, "This code is not known")
	})
	t.Run("roles_are_replaced_and_count_from_the_next_sign_in", func(t *testing.T) {
		p := s.add("mover")
		mover := s.as("mover")
		mover.get("/people").wants(403, "Only an administrator")
		b.post("/people/"+string(p.ID)+"/roles", s.proven("roles", "administrator:0", "roles", "engineer:1")...).leadsTo("/people/" + string(p.ID))
		mover.get("/people").leadsTo("/sign-in?then=%2Fpeople")
		s.as("mover").get("/people").wants(200)
		b.get("/people/"+string(p.ID)).wants(200, "Roles changed")
	})
	t.Run("the_last_administrator_stays", func(t *testing.T) {
		s2 := newSite(t)
		s2.as("administrator").post("/people/P-0001/disable", s2.proven()...).wants(409, "This is the last administrator")
	})
	t.Run("a_role_that_is_none_is_refused", func(t *testing.T) {
		b.post("/people", "name", "X", "login", "xx", "roles", "owner:1").wants(422, "is no role")
		b.post("/people", "name", "X", "login", "xx", "roles", "engineer").wants(422, "A role can't be read")
	})
}

func TestSetup(t *testing.T) {
	s := newSite(t)
	t.Run("works_once_only_while_nobody_exists", func(t *testing.T) {
		s.browser().post("/setup", "code", "GUESS", "name", "Eve", "login", "eve", "password", password).wants(422, "This code is not known")
		if _, needed, err := s.acts.SetupCode(t.Context(), time.Now()); needed || err != nil {
			t.Errorf("a code is made although there is an administrator: %v %v", needed, err)
		}
	})
}

func TestApproveProcedure(t *testing.T) {
	s := newSite(t)
	page := "/procedures/" + s.text("select key from settlemark.procedures limit 1") + "/1"
	b := s.as("quality")
	t.Run("wrong_password_approves_nothing", func(t *testing.T) {
		b.post(page+"/approve", "password", "wrong wrong wrong", "code", s.code()).wants(422, "Password or code is wrong. Nothing was done")
		b.get(page).wants(200, "Not approved")
	})
	t.Run("the_password_alone_approves_nothing", func(t *testing.T) {
		b.post(page+"/approve", "password", password).wants(422, "Type the code")
		b.get(page).wants(200, "Not approved")
	})
	t.Run("quality_approves_with_password_and_code", func(t *testing.T) {
		b.post(page+"/approve", "nonce", "1", "password", password, "code", s.code()).leadsTo(page)
		b.get(page).wants(200, "The quality,")
		b.get("/procedures").wants(200, "The quality")
	})
	t.Run("a_target_by_temperature_is_drawn_with_its_points", func(t *testing.T) {
		a := b.get(page).wants(200, "Ink viscosity by Ink temperature", "strays by up to 2.4 %")
		a.sound("a procedure with a curve")
		doc := a.page()
		if n := doc.Find(".target-curve svg circle").Length(); n != 3 {
			t.Errorf("%d points are drawn", n)
		}
		if row := strings.Join(strings.Fields(doc.Find(".target-curve tbody tr").Eq(1).Text()), " "); row != "254.203.78 to 4.62" {
			t.Errorf("the second point reads %q", row)
		}
	})
	t.Run("five_wrong_proofs_end_the_session", func(t *testing.T) {
		s.add("second", s.people["quality"].Grants...)
		b := s.as("second")
		for range 5 {
			b.post(page+"/approve", "password", "wrong wrong wrong", "code", "000000")
		}
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
}

func TestProposals(t *testing.T) {
	s := newSite(t)
	engineer := s.as("engineer")
	engineer.post("/proposals", "site", "1", "about", "unit", "text", "").wants(422, "Say what should be changed, and why.")
	engineer.post("/proposals", "site", "1", "about", "roof", "text", "new tiles").wants(422, "Choose what the proposal is about.")
	engineer.post("/proposals", "site", "1", "about", "unit", "text", "QU-01 stands at Line 2 now").leadsTo("/proposals")
	s.as("supervisor").get("/proposals").wants(200, "unit: QU-01 stands at Line 2 now", "The engineer")
	if n := s.text("select count(*)::text from settlemark.acts where act = 'change proposed'"); n != "1" {
		t.Errorf("%s proposals are stored", n)
	}
}
