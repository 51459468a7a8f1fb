package handlers

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowDraft is a draft as a form.
func (s *Screens) ShowDraft(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.DraftPage(draftFrame(r, draft), outline(draftView(draft, parts.Form{}))))
}

// StartDraft begins the draft of a new procedure, or of the next revision of
// one that there is.
func (s *Screens) StartDraft(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.DraftProcedure); err != nil {
		return err
	}
	form, err := decodeForm(r, "from", "key", "title")
	if err != nil {
		return err
	}
	if key, revision, begun := strings.Cut(form.Get("from"), "/"); begun {
		n, err := strconv.Atoi(revision)
		if err != nil {
			return problem.New(problem.NotFound, "There is no such revision. Choose one from the list of procedures.")
		}
		id, err := s.Acts.StartRevision(r.Context(), session.Person(r), key, n, s.Now())
		if err != nil {
			return err
		}
		return respond.Redirect(w, r, urls.Draft(id))
	}
	id, err := s.Acts.StartProcedure(r.Context(), session.Person(r), act.NewProcedure{Key: form.Get("key"), Title: form.Get("title")}, s.Now())
	if err != nil {
		page, pageErr := s.procedureList(r, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Draft(id))
}

// DiscardDraft throws a draft away, once the box is ticked.
func (s *Screens) DiscardDraft(w http.ResponseWriter, r *http.Request) error {
	draft, form, err := s.changed(r, "sure")
	if err != nil {
		return err
	}
	if form.Get("sure") != "yes" {
		err = problem.New(problem.Invalid, "Tick the box to throw the draft away. Nothing is changed yet.")
	} else {
		err = s.Acts.DiscardDraft(r.Context(), session.Person(r), draft.ID, version(form), s.Now())
	}
	if err != nil {
		v := outline(draftView(draft, parts.Form{Values: form, Err: err}))
		return respond.Refused(w, r, err, templates.DraftPage(draftFrame(r, draft), v))
	}
	return respond.Redirect(w, r, urls.ProceduresPattern)
}

// draft reads the draft of the address for somebody who may draft.
func (s *Screens) draft(r *http.Request) (db.ProcedureDraft, error) {
	if err := session.Person(r).MayAnywhere(commissioning.DraftProcedure); err != nil {
		return db.ProcedureDraft{}, err
	}
	id, err := strconv.ParseInt(chi.URLParam(r, "draft"), 10, 64)
	if err != nil {
		return db.ProcedureDraft{}, problem.New(problem.NotFound, "There is no such draft. Look under Procedures.")
	}
	return s.DB.Draft(r.Context(), id)
}

// changed reads a form about the draft of the address, with the version that
// its page showed.
func (s *Screens) changed(r *http.Request, fields ...string) (db.ProcedureDraft, url.Values, error) {
	draft, err := s.draft(r)
	if err != nil {
		return draft, nil, err
	}
	form, err := decodeForm(r, append(fields, "version")...)
	return draft, form, err
}

// version is that which a form's page showed; 0, which no draft has, where it
// can't be read.
func version(form url.Values) int {
	n, _ := strconv.Atoi(form.Get("version"))
	return n
}

func draftFrame(r *http.Request, draft db.ProcedureDraft) templates.Frame {
	return respond.Frame(r, words.Say("Draft of %s", draft.Key), templates.Procedures)
}

// draftView is what every page of a draft shows.
func draftView(d db.ProcedureDraft, form parts.Form) templates.DraftView {
	v := templates.DraftView{
		ID: d.ID, Key: d.Key, Title: d.Key, Base: d.Base, Version: d.Version, Text: d.Text,
		ChangedBy: d.ChangedBy, ChangedAt: d.ChangedAt, Authors: d.Authors, Form: form,
		Refusals: commissioning.CheckProcedure([]byte(d.Text)),
	}
	lines := strings.Count(strings.TrimSuffix(d.Text, "\n"), "\n") + 1
	for i := range v.Refusals {
		v.Refusals[i].Line = max(1, min(v.Refusals[i].Line, lines)) // what is missing at the end is said of the last line
	}
	if sheet, err := drafting.Open(d.Text); err == nil && sheet.Value("title") != "" {
		v.Title = sheet.Value("title")
	}
	return v
}
