package main

import (
	"fmt"
	"net/netip"
	"net/url"
	"os"
	"strings"

	"settlemark/internal/provider"
	"settlemark/internal/urls"
)

// readProvider reads through which OpenID provider people sign in.
func readProvider(env func(string) string, publicURL string) (provider.Config, error) {
	c := provider.Config{
		Issuer: env("SETTLEMARK_OIDC_ISSUER"), ClientID: env("SETTLEMARK_OIDC_CLIENT_ID"),
		ClientSecret: env("SETTLEMARK_OIDC_CLIENT_SECRET"), Label: env("SETTLEMARK_OIDC_LABEL"),
	}
	if c.Issuer == "" {
		if c.ClientID != "" {
			return c, fmt.Errorf("SETTLEMARK_OIDC_CLIENT_ID is set, SETTLEMARK_OIDC_ISSUER is not: set both, or neither for no provider")
		}
		return c, nil
	}
	issuer, err := url.Parse(c.Issuer)
	switch {
	case err != nil || issuer.Host == "" || issuer.Scheme != "https" && (issuer.Scheme != "http" || !ownMachine(issuer.Hostname())):
		return c, fmt.Errorf("SETTLEMARK_OIDC_ISSUER: %q is not an address such as https://login.example", c.Issuer)
	case c.ClientID == "":
		return c, fmt.Errorf("SETTLEMARK_OIDC_ISSUER is set, SETTLEMARK_OIDC_CLIENT_ID is not: give the name under which the provider knows this site")
	case publicURL == "":
		return c, fmt.Errorf("SETTLEMARK_OIDC_ISSUER is set, SETTLEMARK_URL is not: the provider must know where to lead people back to")
	}
	if c.Label == "" {
		c.Label = issuer.Hostname()
	}
	c.Callback = publicURL + urls.ProviderAnswerPattern
	if file := env("SETTLEMARK_OIDC_CLIENT_SECRET_FILE"); file != "" {
		if c.ClientSecret != "" {
			return c, fmt.Errorf("SETTLEMARK_OIDC_CLIENT_SECRET and SETTLEMARK_OIDC_CLIENT_SECRET_FILE are both set: set one")
		}
		text, err := os.ReadFile(file) //nolint:gosec // the operator names the file
		if err != nil {
			return c, fmt.Errorf("SETTLEMARK_OIDC_CLIENT_SECRET_FILE: %w", err)
		}
		c.ClientSecret = strings.TrimSpace(string(text))
	}
	return c, nil
}

// ownMachine says whether what is sent to the host leaves this machine.
func ownMachine(host string) bool {
	address, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && address.IsLoopback()
}
