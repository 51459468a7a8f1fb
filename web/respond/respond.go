// Package respond turns what a handler gives back into an answer: pages and
// fragments are rendered into a buffer first, refusals become a page with
// their sentence and the right status, and what nobody foresaw becomes a 500
// with a reference number.
package respond

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strconv"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
)

type frameKey struct{}

// WithFrame keeps what stands around every screen in the context.
func WithFrame(ctx context.Context, f templates.Frame) context.Context {
	return context.WithValue(ctx, frameKey{}, f)
}

// Frame gives the frame of this request for a screen of that title and place.
func Frame(r *http.Request, title words.Text, here templates.Place) templates.Frame {
	f, _ := r.Context().Value(frameKey{}).(templates.Frame)
	f.Title, f.Here = title, here
	return f
}

// Page makes a handler of a function that may fail. Each kind of problem has
// one status; anything else is logged with the request's id and answered 500.
func Page(do func(w http.ResponseWriter, r *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := do(w, r); err != nil {
			Error(w, r, err)
		}
	}
}

// HTML writes a whole page, or a fragment, with its status.
func HTML(w http.ResponseWriter, r *http.Request, status int, c templ.Component) error {
	var page bytes.Buffer
	if err := c.Render(r.Context(), &page); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	body := squeezed(w, r, page.Bytes())
	w.WriteHeader(status)
	_, _ = w.Write(body) // a reader that went away is no fault of ours
	return nil
}

// IsFragment says whether the page's own script asks for a piece of a page.
func IsFragment(r *http.Request) bool { return r.Header.Get("HX-Request") == "true" }

// Fragment answers a script with a piece of page, and a plain form with a
// redirect to where that piece is shown.
func Fragment(w http.ResponseWriter, r *http.Request, redirectURL string, c templ.Component) error {
	if IsFragment(r) {
		return HTML(w, r, http.StatusOK, c)
	}
	http.Redirect(w, r, redirectURL, http.StatusSeeOther)
	return nil
}

// Redirect sends the browser on after a form was taken, 303.
func Redirect(w http.ResponseWriter, r *http.Request, url string) error {
	if IsFragment(r) {
		w.Header().Set("HX-Redirect", url)
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	http.Redirect(w, r, url, http.StatusSeeOther)
	return nil
}

// Refused shows a form again with the sentence and what was typed. The page
// must be made from the same err, so that its summary names the fields. An err
// that is no refusal goes the way of every other error. A script gets the
// whole body of the page to show.
func Refused(w http.ResponseWriter, r *http.Request, err error, page templ.Component) error {
	kind := problem.KindOf(err)
	if kind == 0 {
		return err
	}
	logRefusal(r, err)
	wholeBody(w, r)
	retryAfter(w, err)
	return HTML(w, r, Status(kind), page)
}

// Status of each kind of problem.
func Status(kind problem.Kind) int {
	switch kind {
	case problem.Invalid:
		return http.StatusUnprocessableEntity
	case problem.Forbidden:
		return http.StatusForbidden
	case problem.NotFound:
		return http.StatusNotFound
	case problem.Conflict:
		return http.StatusConflict
	case problem.Busy:
		return http.StatusServiceUnavailable
	case problem.TooMany:
		return http.StatusTooManyRequests
	}
	return http.StatusInternalServerError
}

var headings = map[problem.Kind]words.Text{
	problem.Invalid:   words.Say("That can't be taken as it is"),
	problem.Forbidden: words.Say("That is not yours to do"),
	problem.NotFound:  words.Say("Nothing is here"),
	problem.Conflict:  words.Say("The record has moved on"),
	problem.Busy:      words.Say("Please try again"),
	problem.TooMany:   words.Say("That was too often"),
}

// retryAfter says in how many seconds to try again, where trying again helps.
func retryAfter(w http.ResponseWriter, err error) {
	var refusal *problem.Error
	if errors.As(err, &refusal) && (refusal.Kind == problem.Busy || refusal.Kind == problem.TooMany) {
		w.Header().Set("Retry-After", strconv.Itoa(max(1, refusal.Seconds)))
	}
}

// Error answers with a page of its own: for refusals that belong to no form.
func Error(w http.ResponseWriter, r *http.Request, err error) {
	var refusal *problem.Error
	if !errors.As(err, &refusal) {
		Unforeseen(w, r, err)
		return
	}
	logRefusal(r, err)
	heading := headings[refusal.Kind]
	retryAfter(w, err)
	wholeBody(w, r)
	plain(w, r, Status(refusal.Kind), heading, refusal.Sentence, "")
}

// Unforeseen answers 500 with the reference under which the log has the cause.
func Unforeseen(w http.ResponseWriter, r *http.Request, err error) {
	reference := middleware.GetReqID(r.Context())
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		slog.InfoContext(r.Context(), "the reader went away", "request", reference)
		return
	}
	slog.ErrorContext(r.Context(), "unforeseen", "request", reference, "method", r.Method, "path", r.URL.Path, "error", err.Error())
	wholeBody(w, r)
	plain(w, r, http.StatusInternalServerError, words.Say("Something went wrong here"),
		words.Say("Nothing was stored by this step. Go back and try again; if it happens twice, tell your administrator."), reference)
}

func plain(w http.ResponseWriter, r *http.Request, status int, heading, sentence words.Text, reference string) {
	page := templates.Problem(Frame(r, heading, ""), heading, sentence, reference)
	if err := HTML(w, r, status, page); err != nil {
		slog.ErrorContext(r.Context(), "problem page", "error", err.Error())
		http.Error(w, sentence.String(), status)
	}
}

// Missing answers for an address that leads nowhere.
func Missing(w http.ResponseWriter, r *http.Request) {
	plain(w, r, http.StatusNotFound, headings[problem.NotFound], words.Say("No page has this address. Check it, or start from the start page."), "")
}

// WrongMethod answers for an address that takes no such request.
func WrongMethod(w http.ResponseWriter, r *http.Request) {
	plain(w, r, http.StatusMethodNotAllowed, words.Say("This address takes no such request"), words.Say("Go back and use the buttons of the page."), "")
}

// wholeBody tells the page's script to put the answer in place of everything.
func wholeBody(w http.ResponseWriter, r *http.Request) {
	if IsFragment(r) {
		w.Header().Set("HX-Retarget", "body")
		w.Header().Set("HX-Reswap", "innerHTML show:window:top")
	}
}

func logRefusal(r *http.Request, err error) {
	person := ""
	if f := Frame(r, words.Text{}, ""); f.Person != nil {
		person = string(f.Person.ID)
	}
	slog.InfoContext(r.Context(), "refused", "request", middleware.GetReqID(r.Context()), "person", person,
		"method", r.Method, "path", r.URL.Path, "why", err.Error())
}

// SignInEnded answers a form that comes after its session ended.
func SignInEnded(w http.ResponseWriter, r *http.Request) {
	Error(w, r, problem.New(problem.Forbidden,
		"Your sign-in has ended, so nothing was stored. Sign in in another tab, then send this page again."))
}

// UnlockFirst answers what comes while the screen is locked: a page leads to
// where it is unlocked, anything else waits in the page that sent it.
func UnlockFirst(w http.ResponseWriter, r *http.Request) {
	if !IsFragment(r) && (r.Method == http.MethodGet || r.Method == http.MethodHead) {
		http.Redirect(w, r, urls.UnlockThen(r.URL), http.StatusSeeOther) //nolint:gosec // as in SignInFirst
		return
	}
	if IsFragment(r) {
		w.Header().Set("HX-Reswap", "none")
		w.Header().Set("HX-Trigger", "settlemark:locked")
		w.WriteHeader(http.StatusForbidden)
		return
	}
	Error(w, r, problem.New(problem.Forbidden, "The screen was locked, so nothing was stored. Unlock it in another tab, then send this page again."))
}

// OtherSite answers what another site's page sent.
func OtherSite(w http.ResponseWriter, r *http.Request) {
	Error(w, r, problem.New(problem.Forbidden,
		"This came from a page of another site, so it was refused. Begin at the start page here."))
}

// SignInFirst sends a reader to the sign-in page and back afterwards.
func SignInFirst(w http.ResponseWriter, r *http.Request) {
	url := urls.SignInThen(r.URL)
	if IsFragment(r) {
		w.Header().Set("HX-Redirect", url)
		w.WriteHeader(http.StatusUnauthorized)
		return
	}
	http.Redirect(w, r, url, http.StatusSeeOther) //nolint:gosec // a path of our own; where it goes on to is asked by urls.Local
}
