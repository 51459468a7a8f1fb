package handlers

import (
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowJoinPersons asks which other person is the same human being, and for a
// proof of identity.
func (s *Screens) ShowJoinPersons(w http.ResponseWriter, r *http.Request) error {
	v, over, err := s.joining(r)
	if err != nil {
		return err
	}
	return s.showProven(w, r, v, over)
}

// JoinPersons says that two persons are one human being.
func (s *Screens) JoinPersons(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("same")...)
	if err != nil {
		return err
	}
	same := commissioning.PersonID(form.Get("same"))
	err = s.Acts.JoinPersons(r.Context(), session.Person(r), personID(r), same, signingOf(form), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.Person(personID(r)))
	}
	v, over, viewErr := s.joining(r)
	if viewErr != nil {
		return viewErr
	}
	return s.provenRefused(w, r, v, over, form, err)
}

func (s *Screens) joining(r *http.Request) (v templates.ChangeView, over prover, err error) {
	p, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return v, nil, err
	}
	people, err := s.DB.People(r.Context())
	if err != nil {
		return v, nil, err
	}
	other := parts.Input{
		Name: "same", Label: words.Say("The other person"), Required: true,
		Hint: words.Say("Both keep their login and their records. From now on nobody may countersign work of the other; this is never taken back."),
	}
	for _, one := range people {
		if one.ID != p.ID {
			other.Options = append(other.Options, parts.Option{Value: string(one.ID), Label: words.Plain(one.Name + ", " + one.Login + ", " + string(one.ID))})
		}
	}
	v = templates.ChangeView{
		Title:  words.Say("%s is here twice", p.Name),
		Lead:   words.Say("Two eyes are no four: whoever has two logins counts as one human being for every signature, in runs that are open too."),
		Button: words.Say("They are one human being"), Look: "danger", Here: templates.People, Back: urls.Person(p.ID), Action: urls.PersonSame(p.ID),
		Field: &other,
	}
	return v, s.over(act.JoinContent(p.ID), "same"), nil
}
