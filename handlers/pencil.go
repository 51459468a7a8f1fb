package handlers

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// Forms of a record that are taken: this release's and the one before, which a
// tablet may still hold.
const (
	oldestSchema = 1
	newestSchema = 2
)

// pencilRecord is a record as a tablet writes it: once, so that its bytes can be
// digested. Times are by the tablet's clock, in milliseconds since 1970.
type pencilRecord struct {
	Key      string            `json:"key"` // id of the entry
	Device   string            `json:"device"`
	N        int               `json:"n"`
	Prev     string            `json:"prev"` // SHA-256 of the record before, in hex; "" for the first
	Run      string            `json:"run"`
	Type     string            `json:"type"` // kind of the entry
	Data     map[string]string `json:"data"` // the fields of the form
	By       string            `json:"by"`   // code of the person
	Revision int               `json:"revision"`
	Seen     int               `json:"seen"` // seq of the newest entry that the page showed
	Dev      int64             `json:"dev"`  // when it was written
	Mono     float64           `json:"mono"` // the same by a clock that nobody can turn, since the page was opened
	Off      *pencilOffset     `json:"off"`  // null when the server was never reached
	Jump     int64             `json:"jump"` // how far the two clocks went apart since the server was last reached; since schema 2
	Tab      string            `json:"tab"`
	App      string            `json:"app"`
	Schema   int               `json:"schema"`
}

type pencilOffset struct {
	MS  int64 `json:"ms"`
	RTT int64 `json:"rtt"`
	At  int64 `json:"at"`
}

func (o *pencilOffset) offset() *commissioning.Offset {
	if o == nil {
		return nil
	}
	return &commissioning.Offset{MS: o.MS, RTT: o.RTT, At: time.UnixMilli(o.At)}
}

// How a tablet asks, beside its record.
const (
	clockHeader = "Settlemark-Clock" // the offset measured just now, as JSON
	howHeader   = "Settlemark-How"   // "after-gap", or "leave"
)

// RecordPencil stores what a tablet wrote while it was without the server. Every
// answer is JSON with the server's time:
//
//	200 {"seq": n} stored, or stored before; {"aside": "why"} set aside
//	409 {"wanted": n} another one must come first, {"photo": hash} its photo must
//	4xx {"problem": "…"} refused: it stays on the tablet until its writer has looked
func (s *Screens) RecordPencil(w http.ResponseWriter, r *http.Request) error {
	heard, err := s.pencil(r)
	var missing photoWantedError
	switch {
	case errors.As(err, &missing):
		return s.answer(w, http.StatusConflict, map[string]any{"photo": string(missing)})
	case err != nil:
		return s.refusal(w, r, err)
	case heard.Wanted > 0:
		return s.answer(w, http.StatusConflict, map[string]any{"wanted": heard.Wanted})
	case heard.Aside != "":
		return s.answer(w, http.StatusOK, map[string]any{"aside": heard.Aside})
	}
	return s.answer(w, http.StatusOK, map[string]any{"seq": heard.Seqs[0], "again": heard.Again})
}

// photoWantedError is the hash of a photo that a record names and that is not here.
type photoWantedError string

func (p photoWantedError) Error() string { return "photo " + string(p) + " has not arrived" }

// refusal answers a tablet that something can't be taken, and why.
func (s *Screens) refusal(w http.ResponseWriter, r *http.Request, err error) error {
	var p *problem.Error
	if !errors.As(err, &p) {
		return err
	}
	return s.answer(w, respond.Status(p.Kind), map[string]any{"problem": p.Sentence.In(words.ReaderOf(r.Context()).Language), "field": p.Field})
}

func (s *Screens) answer(w http.ResponseWriter, status int, body map[string]any) error {
	body["now"] = s.Now().UnixMilli()
	return writeJSON(w, status, body)
}

func (s *Screens) pencil(r *http.Request) (act.Heard, error) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return act.Heard{}, tooLargeOrBroken(err)
	}
	record, err := decodePencil(body)
	if err != nil {
		return act.Heard{}, err
	}
	v, err := s.runView(r)
	if err != nil {
		return act.Heard{}, err
	}
	if err := record.belongs(v); err != nil {
		return act.Heard{}, err
	}
	p := act.Pencil{
		Device: record.Device, N: record.N, Body: body, App: record.App, Seen: record.Seen,
		AfterGap: r.Header.Get(howHeader) == "after-gap", Leave: r.Header.Get(howHeader) == "leave",
	}
	if p.Previous, err = hex.DecodeString(record.Prev); err != nil {
		return act.Heard{}, unreadable()
	}
	if record.turned() {
		p.JumpMS = &record.Jump
	}
	if record.Off != nil {
		p.OffsetMS = &record.Off.MS
	}
	if p.Entry, err = s.pencilEntry(r, record, v); err != nil && !p.Leave {
		return act.Heard{}, err
	}
	p.Entry.ID = record.Key // of one that can't be read, too
	return s.Acts.Hear(r.Context(), *v.Viewer, v.Run.ID, p, v.Now)
}

// pencilEntry reads the entry as it stood in the form, at the time at which the
// tablet wrote it.
func (s *Screens) pencilEntry(r *http.Request, record pencilRecord, v templates.RunView) (commissioning.Entry, error) {
	codes, err := s.DB.Fluids(r.Context())
	if err != nil {
		return commissioning.Entry{}, err
	}
	var sending *pencilOffset
	if text := r.Header.Get(clockHeader); text != "" {
		if err := json.Unmarshal([]byte(text), &sending); err != nil {
			return commissioning.Entry{}, unreadable()
		}
	}
	stamp := commissioning.Stamp{Device: time.UnixMilli(record.Dev), Offset: record.Off.offset(), Turned: record.turned()}
	at, clock := stamp.Corrected(sending.offset(), v.Run.OpenedAt, v.Now)
	form, err := record.form()
	if err != nil {
		return commissioning.Entry{}, err
	}
	v.Now = at
	if form.Has("to") {
		if err := s.withMates(r, &v); err != nil {
			return commissioning.Entry{}, err
		}
	}
	if record.Type == string(commissioning.KindPhoto) {
		return s.pencilPhoto(r, form, v, clock)
	}
	e, err := formEntry(form, v, codes)
	e.Clock = &clock
	return e, err
}

// pencilPhoto is the entry of a photo that came before it, by the hash that the
// tablet knows.
func (s *Screens) pencilPhoto(r *http.Request, form url.Values, v templates.RunView, clock commissioning.Clock) (commissioning.Entry, error) {
	e, err := photoEntry(form, v)
	if err != nil {
		return e, err
	}
	e.Clock = &clock
	sent, err := s.DB.PhotoSent(r.Context(), *v.Viewer, v.Run.ID, form.Get("photo"))
	if problem.KindOf(err) == problem.NotFound {
		return e, photoWantedError(form.Get("photo"))
	}
	e.SHA256, e.MediaType = sent.SHA256, sent.MediaType
	return e, err
}

// form gives the fields, which must be those that such a form has.
func (p pencilRecord) form() (url.Values, error) {
	allowed := slices.Concat(entryFields, kindFields[commissioning.Kind(p.Type)])
	form := url.Values{}
	for name, value := range p.Data {
		if !slices.Contains(allowed, name) || !readable(value) {
			return nil, unreadable()
		}
		form.Set(name, strings.TrimSpace(value))
	}
	form.Set("id", p.Key)
	form.Set("kind", p.Type)
	return form, nil
}

// turned says that the tablet's clock was turned, by more than it drifts.
func (p pencilRecord) turned() bool {
	const drift = 2000
	return p.Jump > drift || p.Jump < -drift
}

var deviceName = regexp.MustCompile(`^tablet [0-9a-f]{8}$`)

// decodePencil reads a record; what it does not know is refused.
func decodePencil(body []byte) (pencilRecord, error) {
	var p pencilRecord
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil || d.More() || p.N < 1 || !deviceName.MatchString(p.Device) || len(p.App) > 40 {
		return p, unreadable()
	}
	if p.Schema < oldestSchema || p.Schema > newestSchema {
		return p, problem.New(problem.Conflict, "This was written by another release. Load the page again; the entry stays on the tablet.")
	}
	return p, nil
}

// belongs refuses what was written by somebody else, or for another run.
func (p pencilRecord) belongs(v templates.RunView) error {
	switch {
	case p.Run != string(v.Run.ID):
		return unreadable()
	case p.By != string(v.Viewer.ID):
		return problem.New(problem.Forbidden, "%s wrote this. It is sent when they sign in on this tablet.", v.Name(p.By))
	case p.Revision != v.Run.Revision:
		return fmt.Errorf("record %s: revision %d of a run on %d: %w", p.Key, p.Revision, v.Run.Revision, unreadable())
	}
	return nil
}

func unreadable() error {
	return problem.New(problem.Invalid, "This record can't be read. Leave it with quality and enter it anew.")
}
