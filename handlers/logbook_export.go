package handlers

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/web/session"
)

// LogbookJSON gives the logbook as a file that `settlemark evaluate` reads.
func (s *Screens) LogbookJSON(w http.ResponseWriter, r *http.Request) error {
	book, err := s.wholeBook(r)
	if err != nil {
		return err
	}
	data, err := json.MarshalIndent(book.Logbook(book.JudgedAt(s.Now())), "", "  ")
	if err != nil {
		return err
	}
	if len(book.Signatures) > 0 {
		signed, err := json.MarshalIndent(signedFacts(book), "  ", "  ")
		if err != nil {
			return err
		}
		data = append(bytes.TrimSuffix(data, []byte("\n}")), ",\n  \"signatures\": "+string(signed)+"\n}"...)
	}
	return download(w, "application/json", book.Run.Number.String()+"-logbook.json", append(data, '\n'))
}

// LogbookCSV gives the logbook as a table.
func (s *Screens) LogbookCSV(w http.ResponseWriter, r *http.Request) error {
	book, err := s.wholeBook(r)
	if err != nil {
		return err
	}
	var data bytes.Buffer
	if err := writeCSV(&data, logbookRows(book, s.Now())); err != nil {
		return err
	}
	return download(w, "text/csv; charset=utf-8", book.Run.Number.String()+"-logbook.csv", data.Bytes())
}

// wholeBook refuses whoever has yet to read the print sample: the file would
// show them what the engineer read.
func (s *Screens) wholeBook(r *http.Request) (db.Book, error) {
	p := session.Person(r)
	book, err := s.DB.Logbook(r.Context(), p, runID(r))
	if err != nil {
		return db.Book{}, err
	}
	if book.BlindFor(p) {
		return db.Book{}, problem.New(problem.Forbidden,
			"The logbook shows what the engineer read off the print sample. Type your own reading on the review page first, then download it.")
	}
	return book, nil
}

func download(w http.ResponseWriter, mediaType, name string, data []byte) error {
	w.Header().Set("Content-Type", mediaType)
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	_, err := w.Write(data)
	return err
}

var logbookColumns = []string{
	"seq", "kind", "observed_at", "captured_at", "received_at", "by", "name", "via", "late", "struck_by",
	"step", "outcome", "quantity", "value", "unit", "state", "text", "choice",
	"fault", "ref", "how", "position", "fluid", "lot", "expires", "level_percent",
	"container", "volume_ml", "route", "decision", "strikes", "reason", "replacement", "sha256", "note",
}

func logbookRows(book db.Book, now time.Time) [][]string {
	exam := viewOf(book, now).Exam
	rows := [][]string{logbookColumns}
	for _, e := range book.Entries {
		rows = append(rows, []string{
			strconv.Itoa(e.Seq), string(e.Kind), instant(&e.ObservedAt), instant(e.CapturedAt), instant(e.ReceivedAt),
			e.By, book.Names[e.By], e.Via, mark(exam.Late[e.Seq], "late"), seqText(exam.Struck[e.Seq]),
			e.Step, e.Outcome, e.Quantity, e.Value, e.Unit, state(e.State), e.Text, e.Choice,
			e.Fault, seqText(e.Ref), e.How, string(e.Position), e.Fluid, lot(e.Lot), e.Expires, e.LevelPercent,
			e.Container, e.VolumeML, e.Route, e.Decision, seqText(e.Strikes), e.Reason, replacement(e.Replacement), e.SHA256, e.Note,
		})
	}
	for _, s := range signedFacts(book) {
		row := make([]string, len(logbookColumns))
		for column, text := range map[string]string{
			"kind": "signature", "observed_at": instant(&s.At), "by": s.By, "name": s.Name, "text": s.Meaning, "choice": s.Role,
			"how": s.Method, "sha256": s.Head, "note": s.note(),
		} {
			row[slices.Index(logbookColumns, column)] = text
		}
		rows = append(rows, row)
	}
	return rows
}

// signedFact is a signature as the files show it.
type signedFact struct {
	Round   int       `json:"round"`
	By      string    `json:"by"`
	Name    string    `json:"name"`
	Role    string    `json:"role"`
	Meaning string    `json:"meaning"`
	Method  string    `json:"method"`
	At      time.Time `json:"at"`
	Head    string    `json:"head"` // that it is bound to
	Void    bool      `json:"void,omitempty"`
}

func (s signedFact) note() string {
	if s.Void {
		return fmt.Sprintf("round %d, void: the run was returned", s.Round)
	}
	return fmt.Sprintf("round %d", s.Round)
}

func signedFacts(book db.Book) []signedFact {
	var all []signedFact
	for _, s := range book.Signatures {
		all = append(all, signedFact{
			Round: s.Round, By: string(s.Person), Name: s.Name, Role: string(s.Role), Meaning: s.Meaning, Method: s.Method,
			At: s.SignedAt, Head: hex.EncodeToString(s.Head), Void: s.Round < book.Run.Round,
		})
	}
	return all
}

func instant(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

func mark(is bool, word string) string {
	if is {
		return word
	}
	return ""
}

func seqText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func state(b *bool) string {
	if b == nil {
		return ""
	}
	return strconv.FormatBool(*b)
}

func lot(l *string) string {
	if l == nil {
		return ""
	}
	return *l
}

func replacement(e *commissioning.Entry) string {
	if e == nil {
		return ""
	}
	data, err := json.Marshal(e)
	if err != nil {
		return ""
	}
	return string(data)
}
