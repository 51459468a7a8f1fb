package trust

import (
	"golang.org/x/crypto/acme/autocert"
)

// ACME has a public authority issue and renew the certificate of one host; what
// it gets is kept in the folder. Who calls this accepts the authority's terms.
func ACME(folder, host string) *autocert.Manager {
	return &autocert.Manager{
		Prompt: autocert.AcceptTOS, Cache: autocert.DirCache(folder), HostPolicy: autocert.HostWhitelist(host),
	}
}
