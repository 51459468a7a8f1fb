package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// Lock locks this session, since nobody touched the screen for a while.
func (s *Screens) Lock(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	if err := s.Sessions.Lock(r); err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// ShowUnlock asks who is there. The page says nobody's name.
func (s *Screens) ShowUnlock(w http.ResponseWriter, r *http.Request) error {
	then := urls.Local(r.URL.Query().Get("then"))
	if !session.Locked(r) {
		return respond.Redirect(w, r, then)
	}
	form := parts.Form{Values: map[string][]string{"then": {then}}}
	return respond.HTML(w, r, http.StatusOK, templates.UnlockPage(respond.Frame(r, words.Say("Locked"), ""), form, s.rp(r)))
}

// Unlock goes on with the session when its person proved to be there: to the
// page asked for, or in the page that was never left.
func (s *Screens) Unlock(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "unlock_password", "passkey", "person", "then")
	if err != nil {
		return err
	}
	p, challenge := session.Person(r), session.Asked(r)
	if was := form.Get("person"); was != "" && was != string(p.ID) {
		return problem.New(problem.Conflict, "Somebody else is signed in here now. Load the page again.")
	}
	if session.Locked(r) {
		proof := act.Unlocking{Secret: form.Get("unlock_password"), Challenge: challenge, Address: middleware.GetClientIP(r.Context())}
		if text := form.Get("passkey"); text != "" {
			proof.Passkey = auth.ReadAssertion(text)
		}
		if err := s.Acts.Unlock(r.Context(), p, proof, s.Now()); err != nil {
			page := templates.UnlockPage(respond.Frame(r, words.Say("Locked"), ""), parts.Form{Values: form, Err: err}, s.rp(r))
			return s.proofRefused(w, r, err, page)
		}
		if err := session.Unlock(r); err != nil {
			return err
		}
	}
	if respond.IsFragment(r) {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	return respond.Redirect(w, r, urls.Local(form.Get("then")))
}
