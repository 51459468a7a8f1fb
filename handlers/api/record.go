package api

import (
	"compress/gzip"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/intake"
	"settlemark/internal/problem"
)

// maxBody is the most that a post may hold, packed or not.
const maxBody = 1 << 20

// recordEntries stores entries in the run that the address names.
func (a *API) recordEntries(w http.ResponseWriter, c call) error {
	rows, err := rowsOf(w, c.Request)
	if err != nil {
		return err
	}
	return a.record(w, c, commissioning.RunID(chi.URLParam(c.Request, "run")), rows, make([]error, len(rows)))
}

// recordReadings stores readings in the open run of the unit that the address
// names. A row may leave out kind and id.
func (a *API) recordReadings(w http.ResponseWriter, c call) error {
	rows, err := rowsOf(w, c.Request)
	if err != nil {
		return err
	}
	unit, err := c.unit()
	if err != nil {
		return err
	}
	run, err := a.DB.OpenRunOf(c.Context(), c.by.Site, unit)
	if problem.KindOf(err) == problem.NotFound {
		return problem.New(problem.Conflict, "Unit %s has no open run. Nothing was stored; open a run, or stop sending.", unit)
	}
	if err != nil {
		return err
	}
	refused := make([]error, len(rows))
	for i, row := range rows {
		rows[i], refused[i] = intake.Reading(row, c.by.ID, unit)
	}
	return a.record(w, c, run, rows, refused)
}

// unit is the one that the address names, when the caller's token covers it.
func (c call) unit() (string, error) {
	tag := chi.URLParam(c.Request, "tag")
	return tag, c.covers(tag)
}

// rowsOf reads the body: a JSON array, or a JSON object a line.
func rowsOf(w http.ResponseWriter, r *http.Request) ([][]byte, error) {
	media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	split, known := map[string]func([]byte) ([][]byte, error){
		"application/json": intake.List, "application/x-ndjson": intake.Lines,
	}[media]
	if err != nil || !known {
		return nil, problem.New(problem.Invalid, "Send application/json, an array, or application/x-ndjson, an object a line.")
	}
	data, err := unpacked(http.MaxBytesReader(w, r.Body, maxBody), r.Header.Get("Content-Encoding"))
	if err != nil {
		return nil, err
	}
	return split(data)
}

func unpacked(body io.Reader, encoding string) ([]byte, error) {
	switch strings.ToLower(encoding) {
	case "", "identity":
	case "gzip":
		packed, err := gzip.NewReader(body)
		if err != nil {
			return nil, problem.New(problem.Invalid, "The body is not packed with gzip as its header says. Pack it, or leave the header out.")
		}
		body = packed
	default:
		return nil, problem.New(problem.Invalid, "The body is packed with %q. Send it plain or with gzip.", encoding)
	}
	data, err := io.ReadAll(io.LimitReader(body, maxBody+1))
	var large *http.MaxBytesError
	if errors.As(err, &large) || len(data) > maxBody {
		return nil, problem.New(problem.Invalid, "The post is larger than 1 MB. Send fewer rows at a time.")
	}
	if err != nil {
		return nil, problem.New(problem.Invalid, "The body can't be read to its end. Send it again.")
	}
	return data, nil
}

// result is what became of one row.
type result struct {
	ID      string `json:"id,omitempty"`
	Seq     int    `json:"seq,omitempty"`
	Again   bool   `json:"again,omitempty"` // it was stored before
	Problem string `json:"problem,omitempty"`
	Path    string `json:"path,omitempty"` // of what the problem is about, from the row's place in the post
}

type results struct {
	Run     commissioning.RunID `json:"run"`
	Stored  int                 `json:"stored"`
	Again   int                 `json:"again"`
	Refused int                 `json:"refused"`
	Rows    []result            `json:"rows"` // in the order sent
}

// record stores what can be stored of the rows and says of each what became of
// it. refused holds what is known of each row before.
func (a *API) record(w http.ResponseWriter, c call, id commissioning.RunID, rows [][]byte, refused []error) error {
	run, err := a.run(c, id)
	if err != nil {
		return err
	}
	procedure, err := a.DB.Procedure(c.Context(), run.Procedure, run.Revision)
	if err != nil {
		return err
	}
	all := results{Run: id, Rows: make([]result, len(rows))}
	var entries []commissioning.Entry
	var places []int
	for i, row := range intake.Decode(rows, procedure.Procedure) {
		if refused[i] == nil {
			refused[i] = row.Err
		}
		if all.Rows[i].ID = row.Entry.ID; refused[i] == nil {
			entries, places = append(entries, row.Entry), append(places, i)
		}
	}
	if len(entries) > 0 {
		by := act.Author{Logger: &c.by.Logger, Offset: c.offset}
		outcomes, err := a.Acts.RecordEach(c.Context(), by, id, entries, c.now)
		if err != nil {
			return err
		}
		for n, o := range outcomes {
			i := places[n]
			all.Rows[i].Seq, all.Rows[i].Again, refused[i] = o.Seq, o.Again, o.Err
		}
	}
	for i, err := range refused {
		all.count(i, err)
	}
	answer(w, all.status(), all)
	return nil
}

func (all *results) count(i int, err error) {
	row := &all.Rows[i]
	switch {
	case err != nil:
		all.Refused++
		row.Problem, row.Path = said(err, i)
	case row.Again:
		all.Again++
	default:
		all.Stored++
	}
}

// said is the sentence of a refusal and its path within the post.
func said(err error, i int) (sentence, path string) {
	var p *problem.Error
	if !errors.As(err, &p) {
		return "This row can't be taken.", "$[" + strconv.Itoa(i) + "]"
	}
	inside := strings.TrimPrefix(p.Field, "$")
	if inside != "" && inside[0] != '.' && inside[0] != '[' {
		inside = "." + inside
	}
	return strings.TrimPrefix(p.Sentence.String(), p.Field+": "), "$[" + strconv.Itoa(i) + "]" + inside
}

// status is 200 when every row stands in the record, 422 when none does, else 207.
func (all *results) status() int {
	switch all.Refused {
	case 0:
		return http.StatusOK
	case len(all.Rows):
		return http.StatusUnprocessableEntity
	}
	return http.StatusMultiStatus
}
