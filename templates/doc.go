// Package templates holds one .templ file per screen; parts/ holds what two
// screens share. Props are domain types: no queries, no clock, no request.
//
// The generated *_templ.go files are committed, so a clean checkout builds.
package templates

//go:generate go tool templ generate -include-version=false
