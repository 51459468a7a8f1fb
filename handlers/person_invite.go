package handlers

import (
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/session"
)

// ShowInvitePerson asks what was lost, and for a proof of identity.
func (s *Screens) ShowInvitePerson(w http.ResponseWriter, r *http.Request) error {
	v, over, err := s.invitation(r)
	if err != nil {
		return err
	}
	return s.showProven(w, r, v, over)
}

// InvitePerson makes a new one-time code, for a lost password or second factor.
func (s *Screens) InvitePerson(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("resets")...)
	if err != nil {
		return err
	}
	code, err := s.Acts.NewInvite(r.Context(), session.Person(r), personID(r), form.Get("resets"), signingOf(form), s.Now())
	if err != nil {
		v, over, viewErr := s.invitation(r)
		if viewErr != nil {
			return viewErr
		}
		return s.provenRefused(w, r, v, over, form, err)
	}
	invited, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return err
	}
	return s.showCode(w, r, invited, code)
}

func (s *Screens) invitation(r *http.Request) (v templates.ChangeView, over prover, err error) {
	p, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return v, nil, err
	}
	v = templates.ChangeView{
		Title:  words.Say("A one-time code for %s", p.Name),
		Lead:   words.Say("It lets %s set up anew what was lost; what was not lost is asked for. Make one only for somebody whom you know and see.", p.Name),
		Button: words.Say("Make a one-time code"), Here: templates.People, Back: urls.Person(p.ID), Action: urls.PersonInvite(p.ID),
		Field: &parts.Input{Name: "resets", Label: words.Say("What was lost"), Required: true, Options: templates.Lost},
	}
	return v, s.over(act.InviteContent(p.ID), "resets"), nil
}
