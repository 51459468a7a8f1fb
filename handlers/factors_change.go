package handlers

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"settlemark/internal/auth"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowAddPasskey asks for a passkey.
func (s *Screens) ShowAddPasskey(w http.ResponseWriter, r *http.Request) error {
	v, err := s.passkeyView(r, parts.Form{}, r.URL.Query().Get("then"))
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.PasskeyPage(respond.Frame(r, words.Say("Add a passkey"), templates.Account), v))
}

// AddPasskey keeps the passkey that the person's device made.
func (s *Screens) AddPasskey(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("name", "made", "then")...)
	if err != nil {
		return err
	}
	challenge := session.Asked(r)
	recovery, err := s.Acts.AddPasskey(r.Context(), session.Person(r), signingOf(form), form.Get("name"), form.Get("made"), challenge, s.rp(r), s.Now())
	if err != nil {
		v, viewErr := s.passkeyView(r, parts.Form{Values: form, Err: err}, form.Get("then"))
		if viewErr != nil {
			return viewErr
		}
		return s.proofRefused(w, r, err, templates.PasskeyPage(respond.Frame(r, words.Say("Add a passkey"), templates.Account), v))
	}
	return s.factorAdded(w, r, recovery, form.Get("then"))
}

func (s *Screens) passkeyView(r *http.Request, form parts.Form, then string) (templates.PasskeyView, error) {
	p := session.Person(r)
	proving, err := s.changing(r)
	algorithms := make([]string, len(auth.Algorithms))
	for i, a := range auth.Algorithms {
		algorithms[i] = strconv.Itoa(a)
	}
	return templates.PasskeyView{
		RP: s.rp(r), User: string(p.ID), Login: p.Login, Name: p.Name, IDs: strings.Join(proving.Passkeys, " "),
		Algorithms: strings.Join(algorithms, " "), Then: thenOf(then), Proving: proving, Form: form,
	}, err
}

// ShowRemoveFactor asks for a proof before a second factor is removed.
func (s *Screens) ShowRemoveFactor(w http.ResponseWriter, r *http.Request) error {
	return s.showChange(w, r, removal(r.URL.Query().Get("which")))
}

// RemoveFactor removes a second factor.
func (s *Screens) RemoveFactor(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("which")...)
	if err != nil {
		return err
	}
	if form.Get("which") == "app" {
		err = s.Acts.RemoveApp(r.Context(), session.Person(r), signingOf(form), s.Now())
	} else {
		err = s.Acts.RemovePasskey(r.Context(), session.Person(r), signingOf(form), form.Get("which"), s.Now())
	}
	if err != nil {
		return s.changeRefused(w, r, removal(form.Get("which")), form, err)
	}
	return respond.Redirect(w, r, urls.FactorsPattern)
}

func removal(which string) templates.ChangeView {
	v := templates.ChangeView{
		Title: words.Say("Remove a passkey"), Lead: words.Say("It can't sign in or sign here any more. What it signed stays."),
		Button: words.Say("Remove the passkey"), Look: "danger", Action: urls.RemoveFactorPattern, Here: templates.Account, Back: urls.FactorsPattern, Hidden: map[string]string{"which": which},
	}
	if which == "app" {
		v.Title, v.Lead, v.Button = words.Say("Remove the authenticator app"), words.Say("Its codes are worth nothing here any more."), words.Say("Remove the app")
	}
	return v
}

// ShowRecovery asks for a proof before new recovery codes are made.
func (s *Screens) ShowRecovery(w http.ResponseWriter, r *http.Request) error {
	return s.showChange(w, r, recovering())
}

// NewRecovery makes new recovery codes and shows them, once.
func (s *Screens) NewRecovery(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields()...)
	if err != nil {
		return err
	}
	codes, err := s.Acts.NewRecovery(r.Context(), session.Person(r), signingOf(form), s.Now())
	if err != nil {
		return s.changeRefused(w, r, recovering(), form, err)
	}
	return s.factorAdded(w, r, codes, "")
}

func recovering() templates.ChangeView {
	return templates.ChangeView{
		Title: words.Say("New recovery codes"), Lead: words.Say("You get ten. Those that you have are void from then on."),
		Button: words.Say("Make new recovery codes"), Action: urls.RecoveryPattern, Here: templates.Account, Back: urls.FactorsPattern,
	}
}

// ShowPassword asks for another password.
func (s *Screens) ShowPassword(w http.ResponseWriter, r *http.Request) error {
	return s.showChange(w, r, another())
}

// ChangePassword sets another password and ends the person's other sessions.
func (s *Screens) ChangePassword(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("new_password")...)
	if err != nil {
		return err
	}
	p := session.Person(r)
	err = s.Acts.ChangePassword(r.Context(), p, signingOf(form), form.Get("new_password"), s.Now())
	if err != nil {
		return s.changeRefused(w, r, another(), form, err)
	}
	if err := session.SignIn(r, p, s.Now()); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.AccountPattern)
}

func another() templates.ChangeView {
	return templates.ChangeView{
		Title: words.Say("Another password"), Lead: words.Say("You are signed out everywhere else."), Button: words.Say("Change the password"), Action: urls.PasswordPattern, Here: templates.Account, Back: urls.AccountPattern,
		Field: &parts.Input{
			Name: "new_password", Label: words.Say("The new password"), Hint: words.Say("12 to 128 characters. A few words in a row are easy to keep in mind."),
			Type: "password", Autocomplete: "new-password", Required: true, MaxLength: 128,
		},
	}
}

func (s *Screens) showChange(w http.ResponseWriter, r *http.Request, v templates.ChangeView) error {
	return s.showProven(w, r, v, s.changing)
}

func (s *Screens) changeRefused(w http.ResponseWriter, r *http.Request, v templates.ChangeView, form url.Values, err error) error {
	return s.provenRefused(w, r, v, s.changing, form, err)
}
