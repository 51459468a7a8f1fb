package api

import (
	"net/http"
	"slices"
	"time"

	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

// covers refuses units that are not the token's; whether there is such a unit is
// not said.
func (c call) covers(tag string) error {
	if !slices.Contains(c.by.Units, tag) {
		return problem.New(problem.Forbidden, "This token is not for unit %s. Ask an administrator to add the unit to the gateway.", tag)
	}
	return nil
}

// reader stands for the caller in reads: it sees the runs of its site as a
// supervisor does who has still to read the print sample.
func (c call) reader() commissioning.Person {
	return commissioning.Person{Name: c.by.Name, Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: c.by.Site}}}
}

// run gives a run of one of the caller's units; others are not found.
func (a *API) run(c call, id commissioning.RunID) (commissioning.Run, error) {
	run, err := a.DB.Run(c.Context(), c.reader(), id)
	if err == nil && c.covers(run.Unit) != nil {
		err = problem.New(problem.NotFound, "There is no such run.")
	}
	return run, err
}

func (a *API) book(c call) (db.Book, error) {
	run, err := a.run(c, commissioning.RunID(chi.URLParam(c.Request, "run")))
	if err != nil {
		return db.Book{}, err
	}
	return a.DB.Logbook(c.Context(), c.reader(), run.ID)
}

// summary is a run as lists show it.
type summary struct {
	ID          commissioning.RunID `json:"id"`
	Number      string              `json:"number"`
	Unit        string              `json:"unit"`
	State       commissioning.State `json:"state"`
	Procedure   string              `json:"procedure"`
	Revision    int                 `json:"revision"`
	Entries     int                 `json:"entries"`
	OpenedAt    time.Time           `json:"opened_at"`
	SubmittedAt *time.Time          `json:"submitted_at,omitempty"`
	ReleasedAt  *time.Time          `json:"released_at,omitempty"`
	Certificate string              `json:"certificate,omitempty"`
}

func summaryOf(r commissioning.Run) summary {
	return summary{
		ID: r.ID, Number: r.Number.String(), Unit: r.Unit, State: r.State, Procedure: r.Procedure, Revision: r.Revision,
		Entries: r.Seq, OpenedAt: r.OpenedAt, SubmittedAt: r.SubmittedAt, ReleasedAt: r.ReleasedAt, Certificate: string(r.Certificate),
	}
}

func (a *API) showRun(w http.ResponseWriter, c call) error {
	run, err := a.run(c, commissioning.RunID(chi.URLParam(c.Request, "run")))
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, summaryOf(run))
	return nil
}

func (a *API) listRuns(w http.ResponseWriter, c call) error {
	unit, err := c.unit()
	if err != nil {
		return err
	}
	runs, err := a.DB.UnitRuns(c.Context(), c.reader(), unit)
	if err != nil {
		return err
	}
	all := make([]summary, len(runs))
	for i, r := range runs {
		all[i] = summaryOf(r)
	}
	answer(w, http.StatusOK, map[string]any{"runs": all})
	return nil
}

// showAssessment gives what `settlemark evaluate` prints for the run now.
func (a *API) showAssessment(w http.ResponseWriter, c call) error {
	book, err := a.book(c)
	if err != nil {
		return err
	}
	at := book.JudgedAt(c.now)
	w.Header().Set("Content-Type", jsonMedia)
	_, _ = w.Write(rules.Encode(rules.Judge(book.Logbook(at), at))) //nolint:gosec // JSON, and no sniffing; a reader that went away is no fault of ours
	return nil
}

// showLogbook gives the file that `settlemark evaluate` reads, once nobody has
// to read the print sample without knowing what the engineer read.
func (a *API) showLogbook(w http.ResponseWriter, c call) error {
	book, err := a.book(c)
	if err != nil {
		return err
	}
	if book.BlindFor(c.reader()) {
		return problem.New(problem.Conflict, "The logbook of run %s can be read once it is released or abandoned. Its assessment can be read now.", book.Run.Number)
	}
	answer(w, http.StatusOK, book.Logbook(book.JudgedAt(c.now)))
	return nil
}

// proof is a certificate as lists show it.
type proof struct {
	Number     string                          `json:"number"`
	Run        commissioning.RunID             `json:"run"`
	Unit       string                          `json:"unit"`
	Status     commissioning.CertificateStatus `json:"status"`
	ReleasedAt time.Time                       `json:"released_at"`
	ValidUntil *time.Time                      `json:"valid_until,omitempty"`
}

func (a *API) listCertificates(w http.ResponseWriter, c call) error {
	unit, err := c.unit()
	if err != nil {
		return err
	}
	found, err := a.DB.Certificates(c.Context(), c.reader(), db.CertificateFilter{OfUnit: unit}, c.now)
	if err != nil {
		return err
	}
	all := make([]proof, len(found))
	for i, v := range found {
		all[i] = proof{
			Number: string(v.Number), Run: v.Run, Unit: v.Unit, Status: v.Status(c.now), ReleasedAt: v.ReleasedAt, ValidUntil: v.ValidUntil,
		}
	}
	answer(w, http.StatusOK, map[string]any{"certificates": all})
	return nil
}
