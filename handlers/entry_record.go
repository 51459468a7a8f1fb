package handlers

import (
	"net/http"
	"net/url"
	"slices"

	"github.com/a-h/templ"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// RecordEntry stores one answer or observation and shows the run's new state.
// A refused form comes back with what was typed and one sentence.
func (s *Screens) RecordEntry(w http.ResponseWriter, r *http.Request) error {
	if isJSON(r) {
		return s.recordJSON(w, r)
	}
	if err := r.ParseForm(); err != nil {
		return tooLargeOrBroken(err)
	}
	kind := commissioning.Kind(r.PostForm.Get("kind"))
	form, err := decodeForm(r, slices.Concat(entryFields, kindFields[kind])...)
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	if form.Get("sure") == "no" { // "type it again": the same form, without the slip
		form.Del("value")
		return s.askAgain(w, r, v, templates.Typed{Form: form.Get("form"), Values: form}, nil)
	}
	recorded, ask, err := s.record(r, form, v)
	if err == nil && ask.Empty() {
		return s.recordedPage(w, r, form.Get("form"), recorded)
	}
	typed := templates.Typed{Form: form.Get("form"), Values: form, Err: err, Ask: ask}
	if err == nil {
		err = problem.New(problem.Invalid, "%s", ask)
	}
	return s.askAgain(w, r, v, typed, err)
}

// askAgain shows the page of a form as it was filled in.
func (s *Screens) askAgain(w http.ResponseWriter, r *http.Request, v templates.RunView, typed templates.Typed, err error) error {
	v.Typed = typed
	v.Section = sectionOfForm(v, typed.Form, v.Section)
	page, pageErr := s.formPage(r, v)
	if pageErr != nil {
		return pageErr
	}
	if err != nil {
		return respond.Refused(w, r, err, page)
	}
	if respond.IsFragment(r) {
		w.Header().Set("HX-Retarget", "body")
		w.Header().Set("HX-Reswap", "innerHTML show:window:top")
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// record reads the form and stores the entry, unless something about it is
// odd and the person has not said that they are sure.
func (s *Screens) record(r *http.Request, form url.Values, v templates.RunView) (act.Recorded, words.Text, error) {
	codes, err := s.DB.Fluids(r.Context())
	if err != nil {
		return act.Recorded{}, words.Text{}, err
	}
	if form.Has("to") {
		if err := s.withMates(r, &v); err != nil {
			return act.Recorded{}, words.Text{}, err
		}
	}
	e, err := formEntry(form, v, codes)
	if err != nil {
		return act.Recorded{}, words.Text{}, err
	}
	if err := v.Run.Accepts(e, *v.Viewer); err != nil {
		return act.Recorded{}, words.Text{}, err
	}
	if q := doubt(v, e); !q.Empty() && form.Get("sure") != "yes" {
		return act.Recorded{}, q, nil
	}
	by := act.Author{Person: *v.Viewer, Device: session.Device(r), Form: true}
	recorded, err := s.Acts.Record(r.Context(), by, v.Run.ID, []commissioning.Entry{e}, s.Now())
	return recorded, words.Text{}, err
}

// sectionOfForm finds the section of a line's form.
func sectionOfForm(v templates.RunView, form string, otherwise int) int {
	if step := v.Step(templates.LineOf(form)); step != nil {
		return v.SectionOf(step.ID)
	}
	return otherwise
}

// formPage is the page on which a form stands, for showing it again.
func (s *Screens) formPage(r *http.Request, v templates.RunView) (templ.Component, error) {
	form := v.Typed.Form
	switch templates.PageOf(form) {
	case templates.OnPad:
		return s.readingPage(r, v, v.Typed.Values.Get("quantity"))
	case templates.OnFaults:
		return templates.FaultPage(runFrame(r, v, words.Say("Faults")), v), nil
	case templates.OnMore:
		return templates.MorePage(runFrame(r, v, words.Say("More")), v, form), nil
	case templates.OnCup:
		return templates.CupPage(runFrame(r, v, words.Say("Check with a cup")), v), nil
	case templates.OnPen:
		err := s.withMates(r, &v)
		return templates.PenPage(runFrame(r, v, words.Say("Hand over")), v), err
	case templates.OnCorrection:
		e, ok := v.Standing(v.Typed.Values.Get("strikes"))
		if !ok {
			return nil, problem.New(problem.NotFound, "There is no such entry in this run. Open the logbook and start from there.")
		}
		return templates.CorrectionPage(runFrame(r, v, words.Say("Correct an entry")), v, e), nil
	}
	return runPage(r, v), nil
}

// recordedPage goes on after an entry was stored: to the next line, or back to
// the page that the form stood on.
func (s *Screens) recordedPage(w http.ResponseWriter, r *http.Request, form string, recorded act.Recorded) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	v.Saved = recorded.Seqs[0]
	id := v.Run.ID
	switch templates.PageOf(form) {
	case templates.OnFaults:
		return respond.Redirect(w, r, urls.Saved(urls.Fault(id), v.Saved))
	case templates.OnMore:
		return respond.Redirect(w, r, urls.Saved(urls.More(id), v.Saved))
	case templates.OnPen:
		return respond.Redirect(w, r, urls.Saved(urls.Pen(id), v.Saved))
	case templates.OnPad, templates.OnCup:
		return respond.Redirect(w, r, urls.RunSaved(id, sectionAsked(r, v), v.Saved))
	case templates.OnCorrection:
		return respond.Redirect(w, r, urls.RunSaved(id, v.SectionOf(v.Entry(v.Entry(v.Saved).Strikes).Step), v.Saved))
	}
	v.Section = v.After(templates.LineOf(form))
	url := urls.RunSaved(id, v.Section, v.Saved)
	if respond.IsFragment(r) {
		w.Header().Set("HX-Replace-Url", urls.RunStep(id, v.Section))
	}
	return respond.Fragment(w, r, url, templates.RunAfter(v))
}
