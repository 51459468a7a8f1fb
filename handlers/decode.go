package handlers

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"settlemark/internal/problem"
)

// mostValue is more than any field of a form needs.
const mostValue = 16 << 10

// decodeForm reads a plain form that may carry these fields and no others.
// Surrounding spaces are taken off, but not off passwords.
func decodeForm(r *http.Request, fields ...string) (url.Values, error) {
	if err := r.ParseForm(); err != nil {
		return nil, tooLargeOrBroken(err)
	}
	for name, values := range r.PostForm {
		if !slices.Contains(fields, name) {
			return nil, problem.New(problem.Invalid, "This form does not have a field %q. Reload the page and send it again.", name)
		}
		for i, v := range values {
			if !readable(v) {
				return nil, problem.On(name, "This text can't be read. Type it again.")
			}
			if !strings.Contains(name, "password") {
				values[i] = strings.TrimSpace(v)
			}
		}
	}
	return r.PostForm, nil
}

func tooLargeOrBroken(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return problem.New(problem.Invalid, "This is larger than %d MB. Send something smaller.", max(large.Limit>>20, 1))
	}
	return problem.New(problem.Invalid, "This form can't be read. Reload the page and send it again.")
}

// readable says whether a text can be stored and compared.
func readable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsRune(text, 0) && len(text) <= mostValue
}
