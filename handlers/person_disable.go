package handlers

import (
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowDisablePerson asks for a proof of identity first.
func (s *Screens) ShowDisablePerson(w http.ResponseWriter, r *http.Request) error {
	v, over, err := s.disabling(r)
	if err != nil {
		return err
	}
	return s.showProven(w, r, v, over)
}

// DisablePerson ends a person's access; their records stay.
func (s *Screens) DisablePerson(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields()...)
	if err != nil {
		return err
	}
	err = s.Acts.DisablePerson(r.Context(), session.Person(r), personID(r), signingOf(form), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.Person(personID(r)))
	}
	v, over, viewErr := s.disabling(r)
	if viewErr != nil {
		return viewErr
	}
	return s.provenRefused(w, r, v, over, form, err)
}

func (s *Screens) disabling(r *http.Request) (v templates.ChangeView, over prover, err error) {
	p, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return v, nil, err
	}
	v = templates.ChangeView{
		Title:  words.Say("End the access of %s", p.Name),
		Lead:   words.Say("It ends every sign-in of %s at once. Records and signatures stay as they are.", p.Name),
		Button: words.Say("End the access"), Look: "danger", Here: templates.People, Back: urls.Person(p.ID), Action: urls.PersonDisable(p.ID),
	}
	return v, s.over(act.EndContent(p.ID)), nil
}
