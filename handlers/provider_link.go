package handlers

import (
	"context"
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// found is the account that a person showed at the provider and may link.
type found struct {
	Person   commissioning.PersonID
	Identity commissioning.Identity
}

const foundName = "provider account"

// BeginLink leads to the provider, where a person shows which account is theirs.
func (s *Screens) BeginLink(w http.ResponseWriter, r *http.Request) error {
	return s.toProvider(w, r, attempt{Link: session.Person(r).ID})
}

// linkAnswer keeps the account that was shown until it is linked with a proof.
func (s *Screens) linkAnswer(w http.ResponseWriter, r *http.Request, a attempt, prove func(context.Context) (commissioning.Identity, error)) error {
	if p, ok := session.Current(r); !ok || p.ID != a.Link {
		return problem.New(problem.Forbidden, "Your sign-in has ended, so nothing was linked. Sign in and begin again under Account.")
	}
	i, err := prove(r.Context())
	if err != nil {
		return err
	}
	if err := session.Keep(r, foundName, found{a.Link, i}); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.LinkPattern)
}

// ShowLink asks for a proof before the account that was shown is linked.
func (s *Screens) ShowLink(w http.ResponseWriter, r *http.Request) error {
	i, ok := shown(r)
	if !ok {
		return respond.Redirect(w, r, urls.AccountPattern)
	}
	return s.showProven(w, r, linking(i), s.over(act.LinkContent(session.Person(r).ID, i)))
}

// Link lets the account that was shown sign the person in from now on.
func (s *Screens) Link(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("issuer", "subject")...)
	if err != nil {
		return err
	}
	i, ok := shown(r)
	if !ok || i.Issuer != form.Get("issuer") || i.Subject != form.Get("subject") {
		return problem.New(problem.Conflict, "This page is old, so nothing was linked. Begin again under Account.")
	}
	p := session.Person(r)
	if err := s.Acts.LinkIdentity(r.Context(), p, i, signingOf(form), s.Now()); err != nil {
		return s.provenRefused(w, r, linking(i), s.over(act.LinkContent(p.ID, i)), form, err)
	}
	session.Taken(r, foundName, &found{})
	return respond.Redirect(w, r, urls.AccountPattern)
}

// shown is the account that this person showed last at the provider.
func shown(r *http.Request) (commissioning.Identity, bool) {
	var f found
	ok := session.Kept(r, foundName, &f) && f.Person == session.Person(r).ID
	return f.Identity, ok
}

func linking(i commissioning.Identity) templates.ChangeView {
	return templates.ChangeView{
		Title: words.Say("Link this account"), Lead: words.Say("At %s you are %s. Once it is linked, whoever signs in there as that is signed in here as you. Signatures go on asking for your own proof.", i.Issuer, i.Called),
		Button: words.Say("Link it"), Action: urls.LinkPattern, Here: templates.Account, Back: urls.AccountPattern, Hidden: map[string]string{"issuer": i.Issuer, "subject": i.Subject},
	}
}

// ShowUnlink asks for a proof before an account is unlinked.
func (s *Screens) ShowUnlink(w http.ResponseWriter, r *http.Request) error {
	i, err := s.linked(r, r.URL.Query().Get("issuer"))
	if err != nil {
		return err
	}
	return s.showProven(w, r, unlinking(i), s.over(act.UnlinkContent(session.Person(r).ID, i)))
}

// Unlink ends that an account at the provider signs the person in.
func (s *Screens) Unlink(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("issuer")...)
	if err != nil {
		return err
	}
	i, err := s.linked(r, form.Get("issuer"))
	if err != nil {
		return err
	}
	p := session.Person(r)
	if err := s.Acts.UnlinkIdentity(r.Context(), p, i, signingOf(form), s.Now()); err != nil {
		return s.provenRefused(w, r, unlinking(i), s.over(act.UnlinkContent(p.ID, i)), form, err)
	}
	return respond.Redirect(w, r, urls.AccountPattern)
}

// linked is the account of an issuer that signs this person in.
func (s *Screens) linked(r *http.Request, issuer string) (commissioning.Identity, error) {
	all, err := s.DB.Identities(r.Context(), session.Person(r).ID)
	if err != nil {
		return commissioning.Identity{}, err
	}
	for _, i := range all {
		if i.Issuer == issuer {
			return i, nil
		}
	}
	return commissioning.Identity{}, problem.New(problem.NotFound, "No account of that provider is linked to you. Look under Account.")
}

func unlinking(i commissioning.Identity) templates.ChangeView {
	return templates.ChangeView{
		Title: words.Say("Unlink an account"), Lead: words.Say("The account %s at %s does not sign you in here any more. Your password and second factors stay.", i.Called, i.Issuer),
		Button: words.Say("Unlink it"), Look: "danger", Action: urls.UnlinkPattern, Here: templates.Account, Back: urls.AccountPattern, Hidden: map[string]string{"issuer": i.Issuer},
	}
}
