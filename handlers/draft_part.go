package handlers

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowDraftPart is the form of one part of a draft.
func (s *Screens) ShowDraftPart(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	sheet, part, err := partOf(draft, r.URL.Query().Get("at"))
	if err != nil {
		return err
	}
	at := r.URL.Query().Get("at")
	v := partView(draft, sheet, part, at, parts.Form{Values: part.values(sheet, at)})
	v.Refusals, v.Form.Err = besideFields(v.Refusals, part, at)
	return respond.HTML(w, r, http.StatusOK, templates.DraftPartPage(draftFrame(r, draft), v))
}

// besideFields takes out the refusals that belong to a field of this part, to be
// said beside it.
func besideFields(refusals []commissioning.Refusal, part draftPart, at string) (others []commissioning.Refusal, beside error) {
	for _, r := range refusals {
		path := pathOf(r.Path)
		i := slices.IndexFunc(part.fields, func(f draftField) bool {
			field := join(at, f.Name)
			return path == field || strings.HasPrefix(path, field+".")
		})
		if i < 0 {
			others = append(others, r)
			continue
		}
		beside = errors.Join(beside, problem.On(part.fields[i].Name, "%s: %s.", part.fields[i].Label, r.Reason))
	}
	return others, beside
}

// SaveDraftPart writes what differs into the text and saves it.
func (s *Screens) SaveDraftPart(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	at := r.URL.Query().Get("at")
	sheet, part, err := partOf(draft, at)
	if err != nil {
		return err
	}
	names := []string{"version", "was"}
	for _, f := range part.fields {
		names = append(names, f.Name)
	}
	form, err := decodeForm(r, names...)
	if err != nil {
		return err
	}
	if version(form) != draft.Version {
		return s.partMoved(w, r, draft, at, form)
	}
	more, err := putPart(sheet, part, at, form)
	if err == nil {
		_, err = s.Acts.SaveDraft(r.Context(), session.Person(r), draft.ID, draft.Version, sheet.Text(), s.Now())
	}
	switch {
	case problem.KindOf(err) == problem.Conflict:
		return s.partMoved(w, r, draft, at, form)
	case err != nil:
		v := partView(draft, sheet, part, at, parts.Form{Values: form, Err: err})
		return respond.Refused(w, r, err, templates.DraftPartPage(draftFrame(r, draft), v))
	case more:
		return respond.Redirect(w, r, urls.DraftPart(draft.ID, at))
	}
	return respond.Redirect(w, r, urls.DraftAt(draft.ID, at))
}

// putPart writes the form into the sheet. more says that the line is answered
// in another way now, which has fields that are still to be filled in.
func putPart(s *drafting.Sheet, part draftPart, at string, form url.Values) (more bool, err error) {
	wanted := part.wanted(s, at, form)
	if aStep.MatchString(at) && form.Get("ask") != s.Value(at+".ask") {
		kept := askFields(s, commissioning.Ask(form.Get("ask")))
		more = len(kept) > 0
		for i, f := range wanted {
			own := func(k draftField) bool { return k.Name == f.Key }
			if slices.ContainsFunc(askFields(s, commissioning.Ask(s.Value(at+".ask"))), own) && !slices.ContainsFunc(kept, own) {
				wanted[i].Value = nil
			}
		}
	}
	return more, s.Put(at, wanted...)
}

// partMoved shows the form again, on the draft that somebody else saved in
// between, with what was typed. The line is looked for where it stands now.
func (s *Screens) partMoved(w http.ResponseWriter, r *http.Request, draft db.ProcedureDraft, at string, form url.Values) error {
	draft, err := s.DB.Draft(r.Context(), draft.ID)
	if err != nil {
		return err
	}
	err = problem.New(problem.Conflict,
		"%s saved this draft after your page was made. What you typed is still here, not saved: look at it, then save again.", draft.ChangedBy)
	sheet, openErr := drafting.Open(draft.Text)
	if openErr == nil {
		at = whereIs(sheet, at, form.Get("was"))
	}
	sheet, part, partErr := partOf(draft, at)
	if partErr != nil {
		var typed []string
		for name, values := range form {
			if name != "version" && name != "was" && values[0] != "" {
				typed = append(typed, name+": "+strings.Join(values, ", "))
			}
		}
		slices.Sort(typed)
		return problem.New(problem.Conflict, "%s saved this draft in between, and this part is no longer in it. You typed %s.",
			draft.ChangedBy, strings.Join(typed, "; "))
	}
	if _, putErr := putPart(sheet, part, at, form); putErr == nil && sheet.Text() == draft.Text {
		return respond.Redirect(w, r, urls.DraftAt(draft.ID, at)) // a second click: it says so already
	}
	v := partView(draft, sheet, part, at, parts.Form{Values: form, Err: err})
	return respond.Refused(w, r, err, templates.DraftPartPage(draftFrame(r, draft), v))
}

// whereIs gives the path of the line with that id, at itself where it is still
// there or where it is nothing that has one; "?" where it is gone.
func whereIs(s *drafting.Sheet, at, was string) string {
	if was == "" || nameOf(s, at) == was {
		return at
	}
	for i := range s.Len("sections") {
		steps := "sections." + itoa(i) + ".steps"
		for j := range s.Len(steps) {
			if step := steps + "." + itoa(j); aStep.MatchString(at) && nameOf(s, step) == was {
				return step
			}
		}
	}
	for i := range s.Len("quantities") {
		if q := "quantities." + itoa(i); aQuantity.MatchString(at) && nameOf(s, q) == was {
			return q
		}
	}
	return "?"
}

// nameOf tells a line or a quantity from others, by its id or its key.
func nameOf(s *drafting.Sheet, at string) string {
	switch {
	case aStep.MatchString(at):
		return s.Value(at + ".id")
	case aQuantity.MatchString(at):
		return s.Value(at + ".key")
	case aSection.MatchString(at):
		return s.Value(at + ".title")
	}
	return ""
}

func partOf(draft db.ProcedureDraft, at string) (*drafting.Sheet, draftPart, error) {
	sheet, err := drafting.Open(draft.Text)
	if err != nil {
		return nil, draftPart{}, err
	}
	part, found := partAt(sheet, at)
	if !found {
		return nil, part, problem.New(problem.NotFound, "There is no such part in this draft. Choose one from its form.")
	}
	return sheet, part, nil
}

func partView(draft db.ProcedureDraft, sheet *drafting.Sheet, part draftPart, at string, form parts.Form) templates.PartView {
	v := templates.PartView{DraftView: draftView(draft, form), At: at, Was: nameOf(sheet, at), Heading: part.heading}
	covered := []string{"steps", "format", "key", "revision", "quantities", "faults", "sections", "gates"}
	for _, f := range part.fields {
		v.Fields = append(v.Fields, f.shown(form.Values))
		own, _, _ := strings.Cut(f.Name, ".")
		covered = append(covered, own)
	}
	for _, key := range sheet.Keys(at) {
		if !slices.Contains(covered, key) || key == "target" && sheet.Len(at+".target.curve") > 0 {
			v.Rest = append(v.Rest, key)
		}
	}
	if at != "" {
		v.Excerpt = sheet.Excerpt(at)
	}
	return v
}
