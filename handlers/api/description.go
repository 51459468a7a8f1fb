package api

import (
	_ "embed"
	"net/http"
)

//go:embed openapi.yaml
var description []byte

// describe serves the contract, as an OpenAPI 3.1 document.
func describe(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/yaml")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(description) // a reader that went away is no fault of ours
}
