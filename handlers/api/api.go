// Package api answers machines: gateways that report, and programs that read.
// It calls the same acts and reads as the pages; who asks is said by a token,
// never by a cookie. openapi.yaml is its contract.
package api

import (
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/web/respond"
)

// API carries what its routes need.
type API struct {
	DB   *db.DB
	Acts *act.Acts
	Now  func() time.Time

	slots chan struct{} // posts that are worked on
}

// New answers machines from a record.
func New(d *db.DB, acts *act.Acts, now func() time.Time) *API {
	return &API{DB: d, Acts: acts, Now: now, slots: make(chan struct{}, atOnce)}
}

// call is one request of somebody whose token is good.
type call struct {
	*http.Request
	by     act.Gateway
	offset *time.Duration // the server's clock less the caller's
	now    time.Time
}

// atOnce is how many posts are worked on at a time; the rest try again, so that
// people's pages stay quick while a hundred gateways and tablets catch up.
const atOnce = 16

// Routes hangs the API into the router, beside the pages and outside sessions.
func (a *API) Routes(r chi.Router) {
	r.Get(urls.APIDescriptionPattern, describe)
	r.Post(urls.APIEntriesPattern, a.Batch(a.with(commissioning.ReportScope, a.recordEntries)).ServeHTTP)
	r.Post(urls.APIReadingsPattern, a.Batch(a.with(commissioning.ReportScope, a.recordReadings)).ServeHTTP)
	r.Get(urls.APIRunPattern, a.with(commissioning.ReadScope, a.showRun))
	r.Get(urls.APIAssessmentPattern, a.with(commissioning.ReadScope, a.showAssessment))
	r.Get(urls.APILogbookPattern, a.with(commissioning.ReadScope, a.showLogbook))
	r.Get(urls.APIUnitRunsPattern, a.with(commissioning.ReadScope, a.listRuns))
	r.Get(urls.APICertificatesPattern, a.with(commissioning.ReadScope, a.listCertificates))
}

// Batch lets a post of a gateway or of a tablet in while there is a slot, into
// the lane of the database that is theirs.
func (a *API) Batch(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		select {
		case a.slots <- struct{}{}:
			defer func() { <-a.slots }()
			next.ServeHTTP(w, r.WithContext(db.Ingest(r.Context())))
		default:
			w.Header().Set("Retry-After", "1")
			refuse(w, r, problem.New(problem.Busy, "Too many posts at once. Send it again in a second."))
		}
	})
}

// with asks for a token of that scope and answers refusals as JSON.
func (a *API) with(scope commissioning.TokenScope, do func(http.ResponseWriter, call) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		c, err := a.caller(r)
		if err != nil {
			if problem.KindOf(err) == problem.Forbidden {
				w.Header().Set("WWW-Authenticate", `Bearer realm="settlemark"`)
				answer(w, http.StatusUnauthorized, problemOf(http.StatusUnauthorized, err))
				return
			}
			refuse(w, r, err)
			return
		}
		if c.by.Scope != scope {
			refuse(w, r, problem.New(problem.Forbidden, "This token is for the scope %q, and this needs %q. Ask an administrator for another token.", c.by.Scope, scope))
			return
		}
		if err := do(w, c); err != nil {
			refuse(w, r, err)
		}
	}
}

// sentAt is the header in which a gateway says what its own clock shows.
const sentAt = "Settlemark-Sent-At"

func (a *API) caller(r *http.Request) (call, error) {
	c := call{Request: r, now: a.Now()}
	token, found := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if !found {
		return c, problem.New(problem.Forbidden, "Send the token in the header Authorization: Bearer TOKEN.")
	}
	var sent *time.Time
	if text := r.Header.Get(sentAt); text != "" {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return c, problem.New(problem.Invalid, "The header %s is no RFC 3339 instant with an offset. Correct it or leave it out.", sentAt)
		}
		offset := c.now.Sub(at)
		sent, c.offset = &at, &offset
	}
	var err error
	c.by, err = a.Acts.Gateway(r.Context(), token, sent, c.now)
	return c, err
}

// details is a refusal in the form of RFC 9457, with the JSON path it is about.
type details struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
	Path   string `json:"path,omitempty"`
}

func problemOf(status int, err error) details {
	d := details{Type: "about:blank", Title: http.StatusText(status), Status: status}
	var p *problem.Error
	if errors.As(err, &p) {
		d.Detail, d.Path = p.Sentence.String(), p.Field
	}
	return d
}

// refuse answers with the problem, and with a reference for what nobody foresaw.
func refuse(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem.Error
	if !errors.As(err, &p) {
		reference := middleware.GetReqID(r.Context())
		slog.ErrorContext(r.Context(), "unforeseen", "request", reference, "path", r.URL.Path, "error", err.Error())
		answer(w, http.StatusInternalServerError, details{
			Type: "about:blank", Title: http.StatusText(http.StatusInternalServerError), Status: http.StatusInternalServerError,
			Detail: "Something went wrong here, reference " + reference + ". Send it again; what was stored is not stored twice.",
		})
		return
	}
	if p.Kind == problem.Busy || p.Kind == problem.TooMany {
		w.Header().Set("Retry-After", strconv.Itoa(max(1, p.Seconds)))
	}
	answer(w, respond.Status(p.Kind), problemOf(respond.Status(p.Kind), err))
}

const jsonMedia = "application/json; charset=utf-8"

// answer writes JSON; refusals under their own media type.
func answer(w http.ResponseWriter, status int, body any) {
	data, err := json.Marshal(body)
	if err != nil {
		http.Error(w, "no answer could be written", http.StatusInternalServerError)
		return
	}
	media := jsonMedia
	if _, refusal := body.(details); refusal {
		media = "application/problem+json; charset=utf-8"
	}
	w.Header().Set("Content-Type", media)
	w.WriteHeader(status)
	_, _ = w.Write(append(data, '\n')) // a reader that went away is no fault of ours
}
