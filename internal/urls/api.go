package urls

import "net/url"

// Patterns of what machines ask. Their contract is handlers/api/openapi.yaml.
const (
	APIDescriptionPattern  = "/api/v1/openapi.yaml"
	APIEntriesPattern      = "/api/v1/runs/{run}/entries"
	APIReadingsPattern     = "/api/v1/units/{tag}/readings" // into the unit's open run
	APIRunPattern          = "/api/v1/runs/{run}"
	APIAssessmentPattern   = "/api/v1/runs/{run}/assessment"
	APILogbookPattern      = "/api/v1/runs/{run}/logbook"
	APIUnitRunsPattern     = "/api/v1/units/{tag}/runs"
	APICertificatesPattern = "/api/v1/units/{tag}/certificates"
)

// Patterns of the pages on which gateways are kept.
const (
	GatewaysPattern     = "/gateways"
	GatewayPattern      = "/gateways/{logger}" // and its tokens; POST makes one
	GatewayTokenPattern = "/gateways/{logger}/tokens/{token}/end"
)

// Gateway is the page of one gateway.
func Gateway(id string) string { return GatewaysPattern + "/" + url.PathEscape(id) }

// GatewayTokenEnd makes a token void.
func GatewayTokenEnd(id, token string) string {
	return Gateway(id) + "/tokens/" + url.PathEscape(token) + "/end"
}
