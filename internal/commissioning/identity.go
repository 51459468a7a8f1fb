package commissioning

// Identity is who the site's OpenID provider says somebody is. Issuer and
// subject together name one account for ever.
type Identity struct {
	Issuer  string
	Subject string
	Called  string // how the provider calls them, to show; it names nobody
}
