package handlers

import (
	"net/http"

	"settlemark/internal/problem"
	"settlemark/internal/trust"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowTrust says how a device comes to trust the site's own authority.
func (s *Screens) ShowTrust(w http.ResponseWriter, r *http.Request) error {
	if s.Authority == nil {
		return noAuthority()
	}
	f := respond.Frame(r, words.Say("Trust this site"), "")
	f.Bare, f.Sheets = true, []string{"css/trust.css"}
	c := s.Authority.Certificate
	return respond.HTML(w, r, http.StatusOK, templates.TrustPage(f, templates.TrustView{
		Name: c.Subject.CommonName, Fingerprint: trust.Fingerprint(c), Ends: c.NotAfter, Hosts: s.Authority.Hosts(), Site: s.PublicURL,
	}))
}

// AuthorityCRT serves the authority's certificate as devices install it.
func (s *Screens) AuthorityCRT(w http.ResponseWriter, _ *http.Request) error {
	if s.Authority == nil {
		return noAuthority()
	}
	return certificateFile(w, "application/x-x509-ca-cert", s.Authority.Certificate.Raw)
}

// AuthorityPEM serves the same as text, for programs.
func (s *Screens) AuthorityPEM(w http.ResponseWriter, _ *http.Request) error {
	if s.Authority == nil {
		return noAuthority()
	}
	return certificateFile(w, "application/x-pem-file", s.Authority.PEM())
}

func noAuthority() error {
	return problem.New(problem.NotFound, "This site has no authority of its own that a device would have to install. Ask an administrator how its address is protected.")
}

func certificateFile(w http.ResponseWriter, kind string, file []byte) error {
	w.Header().Set("Content-Type", kind)
	_, err := w.Write(file)
	return err
}
