package handlers

import (
	"errors"
	"net/http"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowReview is the page on which a second person checks the evidence.
func (s *Screens) ShowReview(w http.ResponseWriter, r *http.Request) error {
	v, err := s.reviewView(r, templates.ReviewForm{})
	if err != nil {
		return err
	}
	return s.review(w, r, http.StatusOK, v)
}

func (s *Screens) review(w http.ResponseWriter, r *http.Request, status int, v templates.ReviewView) error {
	f := runFrame(r, v.RunView, words.Say("Review"))
	f.Here, f.Bare = templates.Board, true
	return respond.HTML(w, r, status, templates.ReviewPage(f, v))
}

// reviewView reads the run as its reader may see it.
func (s *Screens) reviewView(r *http.Request, form templates.ReviewForm) (templates.ReviewView, error) {
	p := session.Person(r)
	book, err := s.DB.Logbook(r.Context(), p, runID(r))
	if err != nil {
		return templates.ReviewView{}, err
	}
	v := templates.ReviewView{
		RunView: viewOf(book, s.Now()), Head: book.Run.Head,
		Blind: book.BlindFor(p), Reading: ownReading(book, p), WhyNot: whyNotSign(book, p), Form: form,
	}
	v.Viewer = &p
	if v.WhyNot.Empty() && book.Run.State == commissioning.Submitted {
		if v.WaitsUntil, err = s.DB.LetInUntil(r.Context(), book.Run.ID, p.ID, s.Now()); err != nil {
			return v, err
		}
	}
	if v.Proving, err = s.proving(r, v.Head, "mismatch"); err != nil {
		return v, err
	}
	v.Newer, err = s.DB.NewerRevision(r.Context(), v.Procedure.Key, v.Procedure.Revision)
	return v, err
}

func ownReading(book db.Book, p commissioning.Person) string {
	if own := book.SampleReading; own != nil && own.Person == p.ID && own.Round == book.Run.Round {
		return own.Text
	}
	return ""
}

func whyNotSign(book db.Book, p commissioning.Person) words.Text {
	if len(book.Changed) > 0 {
		return words.Say("This record has been changed. Nothing can be signed on top of it; tell quality.")
	}
	var refusal *problem.Error
	if errors.As(book.Run.CountersignableBy(p, book.Contributors), &refusal) {
		return refusal.Sentence
	}
	return words.Text{}
}

// refusedReview shows the review again, as it stands now, with what was typed
// into the form that was refused.
func (s *Screens) refusedReview(w http.ResponseWriter, r *http.Request, err error, form templates.ReviewForm) error {
	if problem.KindOf(err) == 0 || problem.KindOf(err) == problem.NotFound {
		return err
	}
	v, readErr := s.reviewView(r, form)
	if readErr != nil {
		return readErr
	}
	f := runFrame(r, v.RunView, words.Say("Review"))
	f.Here, f.Bare = templates.Board, true
	return s.proofRefused(w, r, err, templates.ReviewPage(f, v))
}

func reviewForm(name string, r *http.Request, err error) templates.ReviewForm {
	return templates.ReviewForm{Name: name, Form: parts.Form{Values: r.PostForm, Err: err}}
}
