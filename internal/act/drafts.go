package act

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/problem"
)

// maxDraft is what a procedure may be long.
const maxDraft = 1 << 20

// NewProcedure is a procedure to be drafted from nothing.
type NewProcedure struct{ Key, Title string }

// procedureKey keeps keys to what reads well in an address and on paper.
var procedureKey = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// StartProcedure gives the draft of a new procedure. Engineers, supervisors and
// quality may; a key that is taken is a Conflict.
func (a *Acts) StartProcedure(ctx context.Context, p commissioning.Person, n NewProcedure, now time.Time) (id int64, err error) {
	if err := p.MayAnywhere(commissioning.DraftProcedure); err != nil {
		return 0, err
	}
	if !procedureKey.MatchString(n.Key) || len(n.Key) > 60 {
		return 0, problem.On("key", "Give a key of small letters, digits and hyphens, such as return-to-service. It never changes.")
	}
	title, err := required("title", n.Title, "Give the procedure its title.")
	if err != nil {
		return 0, err
	}
	sheet, err := drafting.Open(commissioning.BlankProcedure)
	if err == nil {
		err = sheet.Put("", drafting.Field{Key: "key", Value: drafting.Words(n.Key)}, drafting.Field{Key: "title", Value: drafting.Words(title)})
	}
	if err != nil {
		return 0, fmt.Errorf("blank procedure: %w", err)
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		id, err = tx.StartDraft(ctx, n.Key, 0, sheet.Text(), p.ID, moment(now))
		return err
	})
	return id, err
}

// StartRevision gives the draft of the next revision, which begins as the text
// of the given one, comments and all; the draft that there is already, if
// somebody began one before.
func (a *Acts) StartRevision(ctx context.Context, p commissioning.Person, key string, base int, now time.Time) (id int64, err error) {
	if err := p.MayAnywhere(commissioning.DraftProcedure); err != nil {
		return 0, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		from, err := tx.Procedure(ctx, key, base)
		if err != nil {
			return err
		}
		next, err := tx.NextRevision(ctx, key)
		if err != nil {
			return err
		}
		id, err = tx.StartDraft(ctx, key, base, numbered(from.YAML, next), p.ID, moment(now))
		return err
	})
	return id, err
}

// numbered gives the text its revision, where the form can write it.
func numbered(text string, revision int) string {
	sheet, err := drafting.Open(text)
	if err != nil || sheet.Put("", drafting.Field{Key: "revision", Value: drafting.Whole(fmt.Sprint(revision))}) != nil {
		return text // whoever submits it is told
	}
	return sheet.Text()
}

// SaveDraft stores the text over the version that the page showed, errors and
// all, and gives the new version. Whoever saves is an author from then on. A
// Conflict when somebody else saved in between.
func (a *Acts) SaveDraft(ctx context.Context, p commissioning.Person, id int64, version int, text string, now time.Time) (saved int, err error) {
	if err := p.MayAnywhere(commissioning.DraftProcedure); err != nil {
		return 0, err
	}
	if text, err = storable(text); err != nil {
		return 0, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		saved, err = tx.SaveDraft(ctx, id, version, text, p.ID, moment(now))
		return err
	})
	return saved, err
}

// storable gives the text with plain line breaks. What a browser sends has
// other ones.
func storable(text string) (string, error) {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	switch {
	case len(text) > maxDraft:
		return "", problem.On("text", "A procedure may be %d MiB long. Shorten it.", maxDraft>>20)
	case !utf8.ValidString(text) || strings.ContainsRune(text, 0):
		return "", problem.On("text", "The text holds a character that can't be stored. Take it out, then save again.")
	}
	return text, nil
}

// DiscardDraft throws a draft away. Whoever worked on it may, and quality.
func (a *Acts) DiscardDraft(ctx context.Context, p commissioning.Person, id int64, version int, now time.Time) error {
	if err := p.MayAnywhere(commissioning.DraftProcedure); err != nil {
		return err
	}
	tried := false
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		_, err := tx.Draft(ctx, id)
		switch {
		case tried && problem.KindOf(err) == problem.NotFound:
			return nil // the first try was stored after all
		case err != nil:
			return err
		}
		tried = true
		return tx.DiscardDraft(ctx, id, version, p.ID, moment(now))
	})
}

// SubmitDraft makes the draft the next revision, with the reason for the
// change; quality decides on it then. The text must be a procedure. It gives
// the revision.
func (a *Acts) SubmitDraft(ctx context.Context, p commissioning.Person, id int64, version int, reason string, now time.Time) (r db.ProcedureRevision, err error) {
	if err := p.MayAnywhere(commissioning.DraftProcedure); err != nil {
		return r, err
	}
	if reason, err = required("reason", reason, "Say why the procedure is changed; the reason is kept with the revision."); err != nil {
		return r, err
	}
	var procedure commissioning.Procedure
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		draft, err := tx.Draft(ctx, id)
		switch {
		case problem.KindOf(err) == problem.NotFound && procedure.Key != "": // the first try may have been stored
		case err != nil:
			return err
		default:
			if procedure, err = commissioning.ParseProcedure([]byte(draft.Text)); err != nil {
				return problem.New(problem.Invalid, "This draft can't be submitted yet. Correct what is listed, then submit it.")
			}
		}
		if err := tx.SubmitDraft(ctx, id, version, p.ID, procedure.Key, procedure.Revision, reason, moment(now)); err != nil {
			return err
		}
		r, err = tx.Procedure(ctx, procedure.Key, procedure.Revision)
		return err
	})
	return r, err
}
