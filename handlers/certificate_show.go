package handlers

import (
	"net/http"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

func certificateNumber(r *http.Request) commissioning.CertificateNumber {
	return commissioning.CertificateNumber(chi.URLParam(r, "number"))
}

// ShowCertificate says what a certificate is worth today and leads to its PDF.
func (s *Screens) ShowCertificate(w http.ResponseWriter, r *http.Request) error {
	page, err := s.certificatePage(r, parts.Form{}, false)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

func (s *Screens) certificatePage(r *http.Request, form parts.Form, withdrawing bool) (templ.Component, error) {
	p := session.Person(r)
	c, err := s.DB.Certificate(r.Context(), p, certificateNumber(r))
	if err != nil {
		return nil, err
	}
	history, err := s.actLines(r, db.ActFilter{Subject: string(c.Number)})
	if err != nil {
		return nil, err
	}
	signed, err := s.DB.Signatures(r.Context(), p, c.Run)
	if err != nil {
		return nil, err
	}
	changed, err := s.DB.Changed(r.Context(), c.Run)
	if err != nil {
		return nil, err
	}
	f := respond.Frame(r, words.Say("Certificate %s", c.Number), templates.Certificates)
	v := templates.CertificateView{
		Certificate: c, Now: s.Now(), Form: form, Withdrawing: withdrawing, History: history,
		Signatures: standing(signed[c.Run]), Changed: changed,
		MayWithdraw: p.May(commissioning.Withdraw, c.Site) == nil,
	}
	if _, soon := c.Expiring(v.Now); soon || c.Status(v.Now) == commissioning.Expired {
		v.MayRenew = p.May(commissioning.OpenRun, c.Site) == nil
	}
	if withdrawing {
		v.Proving, err = s.proving(r, act.WithdrawalContent(c.Number), "reason")
	}
	return templates.CertificatePage(f, v), err
}

// standing gives the signatures of the last round; those before it are void.
func standing(all []commissioning.Signature) []commissioning.Signature {
	for len(all) > 0 && all[0].Round < all[len(all)-1].Round {
		all = all[1:]
	}
	return all
}
