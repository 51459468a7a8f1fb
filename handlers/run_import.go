package handlers

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/intake"
	"settlemark/internal/problem"
	"settlemark/internal/tabular"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowImport asks for a file of a controller or a spreadsheet.
func (s *Screens) ShowImport(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return importPage(w, r, v, templates.ImportView{}, nil)
}

// LookIntoFile shows how a file would be read. Nothing is stored: its text goes
// back with the page.
func (s *Screens) LookIntoFile(w http.ResponseWriter, r *http.Request) error {
	file, name, err := readFile(r)
	if err != nil && problem.KindOf(err) == 0 {
		return err
	}
	v, viewErr := s.runView(r)
	if viewErr != nil {
		return viewErr
	}
	view := templates.ImportView{Name: name, SHA256: fmt.Sprintf("%x", sha256.Sum256(file))}
	if err == nil {
		view.Text, err = tabular.Text(file)
	}
	if err != nil {
		view.Form.Err = err
		return importPage(w, r, v, view, err)
	}
	kept, err := s.keptMapping(r, v.Run.Unit)
	if err != nil {
		return err
	}
	view.Mapping = tabular.Guess(view.Text, "", v.Importable(), v.Site.TimeZone, v.Run.OpenedAt, v.Now, kept)
	return importPage(w, r, v, lookedInto(v, view), nil)
}

// ImportFile reads the text as the form says: it shows what that gives, or stores
// it when asked to.
func (s *Screens) ImportFile(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseMultipartForm(2 * tabular.MaxFile); err != nil { //nolint:gosec // the route limits the body
		return tooLargeOrBroken(err)
	}
	text := strings.ToValidUTF8(r.PostForm.Get("text"), "\ufffd") // longer than any other field
	r.PostForm.Del("text")
	form, err := decodeForm(r, append(importFields(), "name", "sha256", "was", "store")...)
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	view := templates.ImportView{Text: text, Name: form.Get("name"), SHA256: form.Get("sha256"), Mapping: mappingOf(form)}
	if form.Get("delimiter") != form.Get("was") { // other columns: what was said of them is void
		view.Mapping = tabular.Guess(text, view.Mapping.Delimiter, v.Importable(), v.Site.TimeZone, v.Run.OpenedAt, v.Now, nil)
		return importPage(w, r, v, lookedInto(v, view), nil)
	}
	view = lookedInto(v, view)
	if err = view.Mapping.Check(v.Importable()); err == nil && form.Has("store") {
		view.Done, err = s.importReadings(r, v, view)
	}
	view.Form = parts.Form{Values: form, Err: err}
	return importPage(w, r, v, view, err)
}

// importReadings stores what was read and says what became of it.
func (s *Screens) importReadings(r *http.Request, v templates.RunView, view templates.ImportView) (*templates.Imported, error) {
	m, read := view.Mapping, view.Read
	switch n := len(read.Readings); {
	case n == 0:
		return nil, problem.New(problem.Invalid, "There is no reading of this run in it. Look at the time zone, the times and the columns.")
	case n > tabular.MaxReadings:
		return nil, problem.New(problem.Invalid, "It holds %d readings; %d can be stored at once. Take fewer columns, or cut the file.", n, tabular.MaxReadings)
	}
	for i, name := range read.Names[:min(len(read.Names), len(m.Columns))] {
		m.Columns[i].Name = name
	}
	mapping, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	entries := make([]commissioning.Entry, len(read.Readings))
	for i, reading := range read.Readings {
		entries[i] = importedEntry(v.Run.ID, reading)
	}
	file, err := importedFile(v, view)
	if err != nil {
		return nil, err
	}
	by := act.Author{Person: *v.Viewer, Device: session.Device(r)}
	outcomes, err := s.Acts.Import(r.Context(), by, v.Run, file, entries, string(mapping), v.Now)
	if err != nil {
		return nil, err
	}
	done := &templates.Imported{}
	for i, o := range outcomes {
		switch {
		case o.Err != nil:
			done.Refused = append(done.Refused, tabular.Bad{Line: read.Readings[i].Line, Why: refusalOf(o.Err)})
		case o.Again:
			done.Again++
		default:
			done.Stored++
		}
	}
	return done, nil
}

// importedFile is the remark that names the file. Its id is that of the bytes, so
// that a file which is imported again is not named again.
func importedFile(v templates.RunView, view templates.ImportView) (commissioning.Entry, error) {
	if sum, err := hex.DecodeString(view.SHA256); err != nil || len(sum) != sha256.Size {
		return commissioning.Entry{}, problem.New(problem.Invalid, "This form can't be read. Reload the page and send it again.")
	}
	return commissioning.Entry{
		ID:   intake.ReadingID("import", string(v.Run.ID), "", view.SHA256),
		Kind: commissioning.KindNote, Text: strings.TrimSpace(view.Name + " SHA-256 " + view.SHA256), ObservedAt: v.Now, Via: "import",
	}, nil
}

// importedEntry is a reading of a file. Nobody measured the clock that dated it,
// so its time is not proven.
func importedEntry(run commissioning.RunID, r tabular.Reading) commissioning.Entry {
	return commissioning.Entry{
		ID:   intake.ReadingID("import", string(run), r.Quantity, r.At.Format(time.RFC3339Nano)),
		Kind: commissioning.KindReading, Quantity: r.Quantity, Value: r.Value, Unit: r.Unit, State: r.State,
		ObservedAt: r.At, Via: "import", Clock: &commissioning.Clock{Raw: r.Raw, Proven: new(false)},
	}
}

func refusalOf(err error) words.Text {
	var p *problem.Error
	switch {
	case !asProblem(plainly(err), &p):
		return words.Say("It can’t be taken.")
	case p.Field == "id":
		return words.Say("Another value was stored for this time before. If that one is wrong, correct it in the logbook.")
	}
	return p.Sentence
}

// keptMapping is how the unit's files were read last, nil when none was.
func (s *Screens) keptMapping(r *http.Request, unit string) (*tabular.Mapping, error) {
	text, err := s.DB.ImportMapping(r.Context(), unit)
	var m tabular.Mapping
	if err != nil || text == "" || json.Unmarshal([]byte(text), &m) != nil {
		return nil, err
	}
	return &m, nil
}

const mostImportColumns = 64

func importFields() []string {
	fields := []string{"delimiter", "decimal", "layout", "zone", "twice", "time", "date"}
	for i := range mostImportColumns {
		fields = append(fields, tabular.ColumnField(i), tabular.UnitField(i))
	}
	return fields
}

func mappingOf(form url.Values) tabular.Mapping {
	number := func(field string) int { n, _ := strconv.Atoi(form.Get(field)); return n }
	m := tabular.Mapping{
		Delimiter: templates.ImportDelimiters[form.Get("delimiter")], Decimal: form.Get("decimal"), Layout: form.Get("layout"), Zone: form.Get("zone"), Twice: form.Get("twice"),
		Time: number("time"), Date: number("date"),
	}
	for i := 0; i < mostImportColumns && form.Has(tabular.ColumnField(i)); i++ {
		c := tabular.Column{Quantity: form.Get(tabular.ColumnField(i)), Unit: form.Get(tabular.UnitField(i))}
		if c.Quantity == "" {
			c.Unit = ""
		}
		m.Columns = append(m.Columns, c)
	}
	return m
}

// formOf is the form that says a mapping.
func formOf(m tabular.Mapping) url.Values {
	form := url.Values{
		"decimal": {m.Decimal}, "layout": {m.Layout}, "zone": {m.Zone}, "twice": {m.Twice}, "time": {strconv.Itoa(m.Time)}, "date": {strconv.Itoa(m.Date)},
	}
	for name, sign := range maps.All(templates.ImportDelimiters) {
		if sign == m.Delimiter {
			form.Set("delimiter", name)
		}
	}
	for i, c := range m.Columns {
		form.Set(tabular.ColumnField(i), c.Quantity)
		form.Set(tabular.UnitField(i), c.Unit)
	}
	return form
}

// lookedInto is the view with what its mapping gives.
func lookedInto(v templates.RunView, view templates.ImportView) templates.ImportView {
	view.Form = parts.Form{Values: formOf(view.Mapping)}
	if view.Mapping.Delimiter != "" {
		view.Read = view.Mapping.Read(view.Text, v.Importable(), v.Run.OpenedAt)
	}
	return view
}

func importPage(w http.ResponseWriter, r *http.Request, v templates.RunView, view templates.ImportView, refused error) error {
	page := templates.ImportPage(runFrame(r, v, words.Say("Readings from a file")), v, view)
	if refused != nil {
		return respond.Refused(w, r, refused, page)
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// readFile takes the file out of a form. One that is too large is read to its end
// and thrown away, so that the browser hears the answer.
func readFile(r *http.Request) (file []byte, name string, err error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, "", problem.On("file", "Choose a file first.")
	}
	for {
		part, err := form.NextPart()
		if err != nil {
			return nil, "", problem.On("file", "Choose a file first.")
		}
		if part.FormName() != "file" {
			continue
		}
		if file, err = io.ReadAll(io.LimitReader(part, tabular.MaxFile+1)); err != nil {
			return nil, "", tooLargeOrBroken(err)
		}
		if _, err := io.Copy(io.Discard, part); err != nil {
			return nil, "", tooLargeOrBroken(err)
		}
		if name = part.FileName(); !readable(name) {
			name = ""
		}
		return file, name, nil
	}
}
