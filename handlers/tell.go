package handlers

import (
	"net/http"
	"net/url"
	"slices"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowTell is where a person chooses how a device tells them, and what comes by
// e-mail.
func (s *Screens) ShowTell(w http.ResponseWriter, r *http.Request) error {
	v, err := s.tellView(r)
	if err != nil {
		return err
	}
	return s.tellPage(w, r, v)
}

// WishMail keeps where a person wants to be told by e-mail.
func (s *Screens) WishMail(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "address", "events")
	if err != nil {
		return err
	}
	var events []commissioning.Event
	for _, e := range form["events"] {
		events = append(events, commissioning.Event(e))
	}
	if s.TryMail == nil {
		return noMail()
	}
	err = s.Acts.WishMail(r.Context(), session.Person(r), form.Get("address"), events)
	if err == nil {
		return respond.Redirect(w, r, urls.TellPattern)
	}
	v := templates.TellView{Mail: true, Events: act.MailEvents, Form: parts.Form{Values: form, Err: err}}
	return respond.Refused(w, r, err, templates.TellPage(tellFrame(r), v))
}

// TryMailAddress sends an e-mail to where the person wants them.
func (s *Screens) TryMailAddress(w http.ResponseWriter, r *http.Request) error {
	v, err := s.tellView(r)
	if err != nil {
		return err
	}
	to := v.Form.Value("address")
	switch {
	case s.TryMail == nil:
		return noMail()
	case to == "":
		return problem.New(problem.Conflict, "You have given no e-mail address. Save one first.")
	}
	if err := s.Acts.MayTry(r.Context(), session.Person(r), "mail", s.Now()); err != nil {
		return err
	}
	v.Tried, v.Good = words.Say("The mail server has taken an e-mail to %s. Look whether it arrives.", to), true
	if err := s.TryMail(r.Context(), newID(), to, words.ReaderOf(r.Context()).Language); err != nil {
		s.Log.WarnContext(r.Context(), "an e-mail that was to be tried was not sent", "cause", err)
		v.Tried, v.Good = words.Say("No e-mail went out. Check the address, and ask whoever keeps the server to look into its log."), false
	}
	return s.tellPage(w, r, v)
}

// TryReceiver delivers a test to a receiver of webhooks and says what it answered.
func (s *Screens) TryReceiver(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.TryWebhooks); err != nil {
		return err
	}
	form, err := decodeForm(r, "target")
	if err != nil {
		return err
	}
	target := form.Get("target")
	if !slices.ContainsFunc(s.Receivers, func(t templates.Receiver) bool { return t.Name == target }) {
		return problem.On("target", "There is no such receiver. Load the page again.")
	}
	if err := s.Acts.MayTry(r.Context(), p, "webhook", s.Now()); err != nil {
		return err
	}
	v, err := s.tellView(r)
	if err != nil {
		return err
	}
	switch status, err := s.TryWebhook(r.Context(), newID(), target, s.Now()); {
	case err == nil:
		v.TriedHook, v.Good = words.Say("%s has taken a test.", target), true
	case status != 0:
		v.TriedHook = words.Say("%s was reached and answered with status %d, so it did not take the test. Ask whoever keeps it.", target, status)
	default:
		s.Log.WarnContext(r.Context(), "a webhook that was to be tried was not delivered", "target", target, "cause", err)
		v.TriedHook = words.Say("%s was not reached, or gave no whole answer within 5 s. Check its address in the operator’s file, and look into the server’s log.", target)
	}
	return s.tellPage(w, r, v)
}

func noMail() error {
	return problem.New(problem.NotFound, "Settlemark has no mail server here. Ask an administrator.")
}

func (s *Screens) tellView(r *http.Request) (templates.TellView, error) {
	v := templates.TellView{Mail: s.TryMail != nil, Events: act.MailEvents}
	if run := r.URL.Query().Get("run"); run != "" {
		var err error
		if v.Run, err = s.DB.Run(r.Context(), session.Person(r), commissioning.RunID(run)); err != nil {
			return v, err
		}
	}
	if session.Person(r).MayAnywhere(commissioning.TryWebhooks) == nil {
		v.Receivers = s.Receivers
	}
	wish, err := s.DB.MailWish(r.Context(), session.Person(r).ID, 0)
	if problem.KindOf(err) == problem.NotFound {
		wish, err = db.MailWish{Events: act.MailEvents}, nil
	}
	v.Form.Values = url.Values{"address": {wish.Address}}
	for _, e := range wish.Events {
		v.Form.Values.Add("events", string(e))
	}
	return v, err
}

func tellFrame(r *http.Request) templates.Frame {
	return respond.Frame(r, words.Say("Tell me"), templates.Account)
}

func (s *Screens) tellPage(w http.ResponseWriter, r *http.Request, v templates.TellView) error {
	return respond.HTML(w, r, http.StatusOK, templates.TellPage(tellFrame(r), v))
}
