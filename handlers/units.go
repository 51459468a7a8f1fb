package handlers

import (
	"net/http"
	"net/url"
	"strconv"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowUnits lists the units of the person's sites.
func (s *Screens) ShowUnits(w http.ResponseWriter, r *http.Request) error {
	page, err := s.unitsPage(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// AddUnit adds a unit with the fluids that it is built for.
func (s *Screens) AddUnit(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.ManageRegisters); err != nil {
		return err
	}
	form, err := decodeForm(r, "tag", "line", "serial", "ink", "makeup")
	if err != nil {
		return err
	}
	saved := commissioning.Unit{Tag: form.Get("tag")}
	if _, err = s.DB.Unit(r.Context(), session.Person(r), saved.Tag); err == nil {
		err = problem.On("tag", "There is a unit with this tag already. Tags are never given twice; choose another.")
	} else if problem.KindOf(err) == problem.NotFound {
		saved, err = s.saveUnit(r, form, saved)
	}
	if err != nil {
		page, pageErr := s.unitsPage(r, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Unit(saved.Tag))
}

func (s *Screens) unitsPage(r *http.Request, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadRegisters); err != nil {
		return nil, err
	}
	units, err := s.DB.Units(r.Context(), p)
	if err != nil {
		return nil, err
	}
	choices, err := s.unitChoices(r)
	if err != nil {
		return nil, err
	}
	v := templates.UnitsView{Units: units, Choices: choices, Form: form, MayChange: p.MayAnywhere(commissioning.ManageRegisters) == nil}
	return templates.UnitList(respond.Frame(r, words.Say("Units"), templates.Units), v), nil
}

// ShowUnit shows one unit with its runs.
func (s *Screens) ShowUnit(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	unit, err := s.DB.Unit(r.Context(), p, chi.URLParam(r, "tag"))
	if err != nil {
		return err
	}
	form := parts.Form{}
	changing := r.URL.Query().Get("change") != ""
	if changing {
		if err := p.May(commissioning.ManageRegisters, unit.Site); err != nil {
			return err
		}
		form.Values = unitValues(unit)
	}
	page, err := s.unitPage(r, unit, form, changing)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// ChangeUnit changes line, serial or fluids of a unit. The tag stays for ever.
func (s *Screens) ChangeUnit(w http.ResponseWriter, r *http.Request) error {
	unit, err := s.DB.Unit(r.Context(), session.Person(r), chi.URLParam(r, "tag"))
	if err != nil {
		return err
	}
	if err := session.Person(r).May(commissioning.ManageRegisters, unit.Site); err != nil {
		return err
	}
	form, err := decodeForm(r, "line", "serial", "ink", "makeup")
	if err != nil {
		return err
	}
	if _, err := s.saveUnit(r, form, unit); err != nil {
		page, pageErr := s.unitPage(r, unit, parts.Form{Values: form, Err: err}, true)
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Unit(unit.Tag))
}

// saveUnit puts the form's fields over what is stored and saves it. The site
// is that of the line.
func (s *Screens) saveUnit(r *http.Request, form url.Values, unit commissioning.Unit) (commissioning.Unit, error) {
	p := session.Person(r)
	lines, err := s.DB.Lines(r.Context(), p)
	if err != nil {
		return unit, err
	}
	line, ok := find(lines, func(l commissioning.Line) string { return number(l.ID) }, form.Get("line"))
	if !ok {
		return unit, problem.On("line", "Choose the line.")
	}
	unit.LineID, unit.Line, unit.Site = line.ID, line.Name, line.Site
	unit.Serial, unit.Ink, unit.Makeup = form.Get("serial"), form.Get("ink"), form.Get("makeup")
	if err := p.May(commissioning.ManageRegisters, unit.Site); err != nil {
		return unit, err
	}
	return s.Acts.SaveUnit(r.Context(), p, unit, s.Now())
}

func (s *Screens) unitPage(r *http.Request, unit commissioning.Unit, form parts.Form, changing bool) (templ.Component, error) {
	p := session.Person(r)
	site, err := s.DB.Site(r.Context(), unit.Site)
	if err != nil {
		return nil, err
	}
	v := templates.UnitView{
		Unit: unit, Site: site, Now: s.Now(), Form: form, Changing: changing,
		MayChange: p.May(commissioning.ManageRegisters, unit.Site) == nil,
		MayOpen:   p.May(commissioning.OpenRun, unit.Site) == nil,
		MayRecord: p.May(commissioning.RecordUnitEvent, unit.Site) == nil,
		MayRead:   p.Reads(unit.Site),
	}
	if v.MayRead {
		if err := s.unitHistory(r, &v); err != nil {
			return nil, err
		}
		ids := []commissioning.RunID{}
		for _, line := range v.History {
			if line.Run != nil {
				ids = append(ids, line.Run.ID)
			}
		}
		if v.Signed, err = s.DB.Signatures(r.Context(), p, ids...); err != nil {
			return nil, err
		}
	}
	if v.Acts, err = s.actLines(r, db.ActFilter{Unit: unit.Tag, Limit: 30}); err != nil {
		return nil, err
	}
	if v.Names, err = s.DB.Names(r.Context()); err != nil {
		return nil, err
	}
	if changing {
		if v.Choices, err = s.unitChoices(r); err != nil {
			return nil, err
		}
	}
	return templates.UnitPage(respond.Frame(r, words.Say("Unit %s", unit.Tag), templates.Units), v), nil
}

// unitChoices gives what the form of a unit offers.
func (s *Screens) unitChoices(r *http.Request) (templates.UnitChoices, error) {
	p := session.Person(r)
	lines, err := s.DB.Lines(r.Context(), p)
	if err != nil {
		return templates.UnitChoices{}, err
	}
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return templates.UnitChoices{}, err
	}
	fluids, err := s.DB.Fluids(r.Context())
	if err != nil {
		return templates.UnitChoices{}, err
	}
	return templates.UnitChoices{Sites: sites, Lines: lines, Fluids: fluids}, nil
}

func unitValues(u commissioning.Unit) url.Values {
	return url.Values{"line": {strconv.FormatInt(u.LineID, 10)}, "serial": {u.Serial}, "ink": {u.Ink}, "makeup": {u.Makeup}}
}
