package handlers

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/live"
	"settlemark/web/respond"
	"settlemark/web/session"
)

func runID(r *http.Request) commissioning.RunID {
	return commissioning.RunID(chi.URLParam(r, "run"))
}

// runView reads the run of the address as its reader may see it, judged now.
func (s *Screens) runView(r *http.Request) (templates.RunView, error) {
	p := session.Person(r)
	book, err := s.DB.Logbook(r.Context(), p, runID(r))
	if err != nil {
		return templates.RunView{}, err
	}
	v := viewOf(book, s.Now())
	if v.Newer, err = s.DB.NewerRevision(r.Context(), v.Procedure.Key, v.Procedure.Revision); err != nil {
		return templates.RunView{}, err
	}
	if v.Told, err = s.DB.RunNotices(r.Context(), v.Run.ID); err != nil {
		return templates.RunView{}, err
	}
	v.Viewer = &p
	v.Section = sectionAsked(r, v)
	v.Kept = r.URL.Query().Has("kept")
	if saved, err := strconv.Atoi(r.URL.Query().Get("saved")); err == nil && saved > 0 && saved <= len(v.Entries) {
		v.Saved = saved
	}
	return v, nil
}

// viewOf judges a book at one instant and lays it out for the pages.
func viewOf(book db.Book, now time.Time) templates.RunView {
	zone, err := time.LoadLocation(book.Site.TimeZone)
	if err != nil {
		zone = time.UTC
	}
	at := book.JudgedAt(now)
	v := templates.RunView{
		Run: book.Run, Unit: book.Unit, Site: book.Site, Makeup: book.Makeup, Procedure: book.Procedure.Procedure,
		Exam: rules.Examine(book.Logbook(at), at), Entries: book.Entries, Signatures: book.Signatures, Changed: book.Changed,
		Names: book.Names, Zone: zone, Now: now, NewID: newID,
	}
	for _, back := range book.Returns {
		v.Returns = append(v.Returns, templates.Return{At: back.At, By: back.Name, Reason: back.Reason})
	}
	return v
}

// newID makes the key of a form, so that sending it twice stores it once.
func newID() string { return uuid.Must(uuid.NewV7()).String() }

// sectionAsked is the section that the address names, else where the work
// stands; of a run that has ended it is the hold.
func sectionAsked(r *http.Request, v templates.RunView) int {
	most := len(v.Procedure.Sections) - 1
	if n, err := strconv.Atoi(r.URL.Query().Get("section")); err == nil && n >= 0 && n <= most {
		return n
	}
	if v.Run.State != commissioning.Open {
		return v.HoldSection()
	}
	return min(v.Here(), most)
}

// runFrame is what stands around a page of this run.
func runFrame(r *http.Request, v templates.RunView, title words.Text) templates.Frame {
	f := respond.Frame(r, words.Say("%s, %s, run %s", title, v.Unit.Tag, v.Run.Number), templates.MyRuns)
	f.Site, f.Now, f.Demo = v.Site, v.Now, f.Demo || v.Run.Demo
	return f
}

// RunPieces renders what a run's pages share, for every screen that watches.
// Nothing in it depends on who looks, and the sample's text is not in it.
func (s *Screens) RunPieces(ctx context.Context, id commissioning.RunID) ([]live.Piece, error) {
	book, err := s.DB.StreamBook(ctx, id)
	if err != nil {
		return nil, err
	}
	v := viewOf(book, s.Now())
	if v.Told, err = s.DB.RunNotices(ctx, id); err != nil {
		return nil, err
	}
	return rendering(ctx, templates.RunPieces(v))
}
