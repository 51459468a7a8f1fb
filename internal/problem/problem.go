// Package problem is the one error type that carries a sentence for a person.
//
// Return a *Error where a person can do something about it; wrap anything else
// with %w and let the wrapper in web/respond answer with a reference number.
// The package knows neither HTTP nor SQL.
package problem

import (
	"errors"
	"fmt"

	"settlemark/internal/words"
)

// Kind says what the caller should do.
type Kind int

const (
	// Invalid: the request can't be taken as it is; show the sentence beside the field, keep what was typed.
	Invalid Kind = iota + 1
	// Forbidden: this person may not do that.
	Forbidden
	// NotFound: there is no such thing, or it belongs to another site.
	NotFound
	// Conflict: the record moved, or it was done already; show the present state.
	Conflict
	// Busy: try again; answer 503 with Retry-After.
	Busy
	// TooMany: this one asks too often; answer 429 with Retry-After.
	TooMany
)

// Error is a refusal with one plain sentence that says what to do next.
type Error struct {
	Kind     Kind
	Sentence words.Text
	Field    string // name of the form field or JSON path, "" when none
	Seconds  int    // to wait before the next try, 0 when it is not known
	Cause    error  // for the log only
}

func (e *Error) Error() string {
	if e.Cause != nil {
		return e.Sentence.String() + ": " + e.Cause.Error()
	}
	return e.Sentence.String()
}

func (e *Error) Unwrap() error { return e.Cause }

// New makes a refusal of the given kind. The format is a key of the catalogues.
func New(kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Sentence: words.Say(format, args...)}
}

// On makes an Invalid refusal that belongs to one field.
func On(field, format string, args ...any) *Error {
	return &Error{Kind: Invalid, Field: field, Sentence: words.Say(format, args...)}
}

// KindOf gives the kind of the first *Error in the chain, 0 when there is none.
func KindOf(err error) Kind {
	var p *Error
	if errors.As(err, &p) {
		return p.Kind
	}
	return 0
}

// Wrap adds the function and its arguments in front of *err; use it deferred.
func Wrap(err *error, format string, args ...any) {
	if *err != nil {
		*err = fmt.Errorf("%s: %w", fmt.Sprintf(format, args...), *err)
	}
}
