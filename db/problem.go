package db

import (
	"context"
	"errors"
	"io"
	"net"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// kinds says what each SQLSTATE means for a person. Those beginning with SM
// are raised by our own functions with the sentence to show.
var kinds = map[string]problem.Kind{
	"SMINV": problem.Invalid,
	"SMFOR": problem.Forbidden,
	"SMNOT": problem.NotFound,
	"SMCON": problem.Conflict,
	"SMIDS": problem.Invalid, // an id that was used before for something else
}

// others gives the kind and the sentence for states that Postgres itself raises.
var others = map[string]*problem.Error{
	"23505": problem.New(problem.Conflict, "That exists already. Look at it before you go on."),
	"23503": problem.New(problem.Invalid, "Something that this refers to does not exist. Choose it again from the list."),
	"23514": problem.New(problem.Invalid, "A value is outside of what can be stored. Check what you typed."),
	"22P02": problem.New(problem.NotFound, "There is no such thing."),
	"22P05": problem.New(problem.Invalid, "The text holds a character that can't be stored. Type it again."),
	"22021": problem.New(problem.Invalid, "The text holds a character that can't be stored. Type it again."),
	"22001": problem.New(problem.Invalid, "A text is too long. Shorten it."),
	"55P03": busy, "57014": busy, "53300": busy, "53100": busy, "58030": busy, "57P01": busy, "57P02": busy, "57P03": busy,
}

var busy = problem.New(problem.Busy, "The database is busy. Nothing was stored; try again in a moment.")

// explain turns an error of the driver into a *problem.Error where a person can
// do something about it. It does so once: an explained error stays as it is.
func explain(err error) error {
	if err == nil || problem.KindOf(err) != 0 {
		return err
	}
	var pg *pgconn.PgError
	var connect *pgconn.ConnectError
	var network net.Error
	switch {
	case errors.As(err, &pg):
		if kind, ours := kinds[pg.Code]; ours {
			return &problem.Error{Kind: kind, Sentence: raised(pg.Message), Cause: err}
		}
		if p, known := others[pg.Code]; known {
			return &problem.Error{Kind: p.Kind, Sentence: p.Sentence, Cause: err}
		}
	case errors.Is(err, pgx.ErrNoRows):
		return &problem.Error{Kind: problem.NotFound, Sentence: words.Say("There is no such thing."), Cause: err}
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, io.ErrUnexpectedEOF), // the server went away
		errors.Is(err, context.DeadlineExceeded):
		return &problem.Error{Kind: problem.Busy, Sentence: busy.Sentence, Cause: err}
	}
	return err
}
