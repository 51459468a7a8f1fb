package handlers

import (
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowFactors says what second factors a person has.
func (s *Screens) ShowFactors(w http.ResponseWriter, r *http.Request) error {
	f, err := s.DB.Factors(r.Context(), session.Person(r).ID)
	if err != nil {
		return err
	}
	v := templates.FactorsView{App: f.App, Recovery: f.Recovery, Then: thenOf(r.URL.Query().Get("then"))}
	for _, k := range f.Passkeys {
		v.Passkeys = append(v.Passkeys, templates.PasskeyLine{ID: k.ID, Name: k.Name, RP: k.RP, AddedAt: k.AddedAt, UsedAt: k.UsedAt})
	}
	return respond.HTML(w, r, http.StatusOK, templates.FactorsPage(respond.Frame(r, words.Say("Second factors"), templates.Account), v))
}

// thenOf is where a person was going, "" when nowhere.
func thenOf(then string) string {
	if then == "" {
		return ""
	}
	return urls.Local(then)
}

// changing is what a form must know that changes a person's own proofs: before
// the first second factor the password is enough.
func (s *Screens) changing(r *http.Request) (parts.Proving, error) {
	p, err := s.proving(r, act.FactorsContent(session.Person(r).ID))
	p.First = p.None
	return p, err
}

// ShowApp shows the picture for an authenticator app.
func (s *Screens) ShowApp(w http.ResponseWriter, r *http.Request) error {
	v, err := s.appView(r, parts.Form{}, r.URL.Query().Get("then"))
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.AppPage(respond.Frame(r, words.Say("Authenticator app"), templates.Account), v))
}

// AddApp puts the app to use when its first code is right.
func (s *Screens) AddApp(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("first", "then")...)
	if err != nil {
		return err
	}
	recovery, err := s.Acts.AddApp(r.Context(), session.Person(r), signingOf(form), form.Get("first"), s.Now())
	if err != nil {
		v, viewErr := s.appView(r, parts.Form{Values: form, Err: err}, form.Get("then"))
		if viewErr != nil {
			return viewErr
		}
		return s.proofRefused(w, r, err, templates.AppPage(respond.Frame(r, words.Say("Authenticator app"), templates.Account), v))
	}
	return s.factorAdded(w, r, recovery, form.Get("then"))
}

// factorAdded shows recovery codes where there are new ones, else goes on.
func (s *Screens) factorAdded(w http.ResponseWriter, r *http.Request, recovery []string, then string) error {
	next := urls.FactorsPattern
	if then != "" {
		next = urls.Local(then)
	}
	if len(recovery) == 0 {
		return respond.Redirect(w, r, next)
	}
	return respond.HTML(w, r, http.StatusOK, templates.RecoveryCodes(respond.Frame(r, words.Say("Recovery codes"), templates.Account), recovery, next))
}

func (s *Screens) appView(r *http.Request, form parts.Form, then string) (templates.AppView, error) {
	p := session.Person(r)
	proving, err := s.changing(r)
	if err != nil {
		return templates.AppView{}, err
	}
	seed, err := s.Acts.OfferApp(r.Context(), p, auth.NewSeed())
	return templates.AppView{
		URL: auth.SeedURL(seed, p.Login), Seed: auth.SeedText(seed), Replaces: proving.App,
		Then: thenOf(then), Proving: proving, Form: form,
	}, err
}
