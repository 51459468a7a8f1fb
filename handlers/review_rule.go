package handlers

import (
	"encoding/hex"
	"net/http"
	"net/url"
	"strconv"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// RuleOnEntry records a supervisor's disposition of one entry.
func (s *Screens) RuleOnEntry(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "id", "ref", "head", "decision", "reason")
	if err != nil {
		return err
	}
	if err := s.rule(r, form); err != nil {
		return s.refusedReview(w, r, err, reviewForm("ruling-"+form.Get("ref"), r, err))
	}
	return respond.Redirect(w, r, urls.Review(runID(r)))
}

func (s *Screens) rule(r *http.Request, form url.Values) error {
	head, err := headShown(form)
	if err != nil {
		return err
	}
	ref, err := strconv.Atoi(form.Get("ref"))
	if err != nil || ref < 1 {
		return problem.New(problem.Invalid, "This form names no entry. Reload the page and rule again.")
	}
	decision := form.Get("decision")
	if decision != commissioning.Accept && decision != commissioning.Reject {
		return problem.New(problem.Invalid, "Choose Accept or Reject.")
	}
	if form.Get("reason") == "" {
		return problem.On("reason", "Give a reason for your ruling.")
	}
	now, p := s.Now(), session.Person(r)
	e := commissioning.Entry{
		ID: form.Get("id"), Kind: commissioning.KindDisposition, ObservedAt: now, CapturedAt: &now,
		By: string(p.ID), Via: "typed", Ref: ref, Decision: decision, Reason: form.Get("reason"),
	}
	_, err = s.Acts.Rule(r.Context(), p, runID(r), head, e, now)
	return err
}

// signingOver reads a signature over the head that its page showed.
func signingOver(form url.Values) (act.Signing, error) {
	head, err := headShown(form)
	if err != nil {
		return act.Signing{}, err
	}
	s := signingOf(form)
	s.Head = head
	return s, nil
}

// headShown is the head of the record that the signer's page showed.
func headShown(form url.Values) ([]byte, error) {
	head, err := hex.DecodeString(form.Get("head"))
	if err != nil || len(head) != 32 {
		return nil, problem.New(problem.Invalid, "This page has lost its place in the record. Reload it and look again.")
	}
	return head, nil
}
