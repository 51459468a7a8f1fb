package handlers

import (
	"net/http"
	"strconv"
	"time"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

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

// ShowGateway shows one gateway and its tokens.
func (s *Screens) ShowGateway(w http.ResponseWriter, r *http.Request) error {
	page, err := s.gatewayPage(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// MakeToken makes a token and shows it, in the answer to the form and nowhere
// else.
func (s *Screens) MakeToken(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("scope", "days")...)
	if err != nil {
		return err
	}
	logger, err := s.gateway(r)
	if err != nil {
		return err
	}
	days, _ := strconv.Atoi(form.Get("days")) // the act says what is wrong with 0
	token, err := s.Acts.MakeLoggerToken(r.Context(), session.Person(r), logger.ID, commissioning.TokenScope(form.Get("scope")),
		time.Duration(days)*24*time.Hour, signingOf(form), s.Now())
	if err == nil {
		return respond.HTML(w, r, http.StatusOK, templates.NewToken(respond.Frame(r, words.Say("New token"), templates.Gateways), logger, token))
	}
	page, pageErr := s.gatewayPage(r, parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return s.proofRefused(w, r, err, page)
}

// EndToken makes a token void at once.
func (s *Screens) EndToken(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	logger, err := s.gateway(r)
	if err != nil {
		return err
	}
	if err := s.Acts.EndLoggerToken(r.Context(), session.Person(r), logger.ID, chi.URLParam(r, "token"), s.Now()); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.Gateway(logger.ID))
}

func (s *Screens) gateway(r *http.Request) (commissioning.Logger, error) {
	logger, err := s.DB.Logger(r.Context(), chi.URLParam(r, "logger"))
	if err == nil && session.Person(r).May(commissioning.ManageRegisters, logger.Site) != nil {
		err = problem.New(problem.NotFound, "There is no such gateway. Choose one from the list.")
	}
	return logger, err
}

func (s *Screens) gatewayPage(r *http.Request, form parts.Form) (templ.Component, error) {
	v := templates.GatewayView{Form: form, MayMake: session.Person(r).MayAnywhere(commissioning.ManageTokens) == nil, Now: s.Now()}
	var err error
	if v.Logger, err = s.gateway(r); err != nil {
		return nil, err
	}
	if v.Tokens, err = s.DB.LoggerTokens(r.Context(), v.Logger.ID); err != nil {
		return nil, err
	}
	if v.MayMake {
		if v.Proving, err = s.proving(r, act.TokenContent(v.Logger.ID)); err != nil {
			return nil, err
		}
	}
	return templates.GatewayPage(respond.Frame(r, words.Plain(v.Logger.Name), templates.Gateways), v), nil
}
