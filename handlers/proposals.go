package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowProposals lists what engineers would have changed in the registers.
func (s *Screens) ShowProposals(w http.ResponseWriter, r *http.Request) error {
	page, err := s.proposals(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// Propose notes a proposal.
func (s *Screens) Propose(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.ProposeChange); err != nil {
		return err
	}
	form, err := decodeForm(r, "site", "about", "text")
	if err != nil {
		return err
	}
	site, err := decodeSite(form)
	if err == nil {
		v := act.Proposal{Site: site, About: form.Get("about"), Text: form.Get("text")}
		err = s.Acts.Propose(r.Context(), session.Person(r), v, s.Now())
	}
	if err != nil {
		page, pageErr := s.proposals(r, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.ProposalsPattern)
}

func (s *Screens) proposals(r *http.Request, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadRegisters); err != nil {
		return nil, err
	}
	lines, err := s.actLines(r, db.ActFilter{Act: act.ChangeProposed})
	if err != nil {
		return nil, err
	}
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return nil, err
	}
	v := templates.ProposalsView{
		Lines: lines, Form: form, Registers: act.Registers,
		Sites:      siteOptions(sitesFor(p, commissioning.ProposeChange, sites)),
		MayPropose: p.MayAnywhere(commissioning.ProposeChange) == nil,
	}
	return templates.ProposalsPage(respond.Frame(r, words.Say("Proposals"), templates.Proposals), v), nil
}
