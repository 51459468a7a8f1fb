package act

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// longestToken is how long a gateway's token may stand; a day more than a year,
// so that a calendar year fits.
const longestToken = 366 * 24 * time.Hour

// TokenContent is what the proof for a new token of a gateway is bound to.
func TokenContent(logger string) []byte { return auth.ContentHash("logger-token/1", logger) }

// MakeLoggerToken makes a token for a gateway and gives it, once; tokens before
// it stand until they are ended or run out. Administrators may, with a proof of
// identity.
func (a *Acts) MakeLoggerToken(ctx context.Context, p commissioning.Person, logger string, scope commissioning.TokenScope,
	lasts time.Duration, s Signing, now time.Time,
) (string, error) {
	if err := p.MayAnywhere(commissioning.ManageTokens); err != nil {
		return "", err
	}
	words, known := map[commissioning.TokenScope]string{
		commissioning.ReportScope: "to report", commissioning.ReadScope: "to read",
	}[scope]
	if !known {
		return "", problem.On("scope", "Choose what the token is for.")
	}
	if lasts < 24*time.Hour || lasts > longestToken {
		return "", problem.On("days", "A token stands for 1 to 366 days. Give a number of days in between.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{TokenContent(logger), s.Nonce}, now)
	if err != nil {
		return "", err
	}
	id, token := auth.NewToken()
	made := commissioning.LoggerToken{ID: id, Logger: logger, Scope: scope, MadeAt: moment(now), ExpiresAt: moment(now.Add(lasts))}
	err = a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		if held, err := tx.Held(ctx, db.LoggerRegister, logger); err != nil || held == "" {
			return db.Note{}, noSuchLogger(err)
		}
		return db.Note{
			Act: "logger token made", Subject: logger,
			Detail: fmt.Sprintf("%s, %s, until %s", id, words, made.ExpiresAt.Format(time.DateOnly)),
		}, tx.AddLoggerToken(ctx, made, auth.TokenHash(token))
	})
	return token, err
}

func noSuchLogger(err error) error {
	if err != nil {
		return err
	}
	return problem.New(problem.NotFound, "There is no such gateway. Choose one from the list.")
}

// EndLoggerToken makes a token void at once; ending it again does nothing.
// Administrators may. Closing a door asks for no proof.
func (a *Acts) EndLoggerToken(ctx context.Context, p commissioning.Person, logger, id string, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManageTokens); err != nil {
		return err
	}
	key := uuid.NewString()
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		ended, err := tx.EndLoggerToken(ctx, logger, id, moment(now))
		if err != nil || !ended {
			return err
		}
		return tx.Note(ctx, db.Note{Key: key, By: p.ID, Act: "logger token ended", Subject: logger, Detail: id}, moment(now))
	})
}

// Gateway is who shows a token.
type Gateway struct {
	commissioning.Logger
	Scope commissioning.TokenScope
}

// worthNoting is how long the note of a token's last use may be behind.
const worthNoting = time.Minute

// Gateway finds whose token it is. sent is the gateway's own clock when it said
// so. A token that is unknown, ended or run out is Forbidden.
func (a *Acts) Gateway(ctx context.Context, token string, sent *time.Time, now time.Time) (Gateway, error) {
	t, err := a.db.LoggerToken(ctx, auth.TokenHash(token))
	switch {
	case problem.KindOf(err) == problem.NotFound || err == nil && !t.StandsAt(now):
		return Gateway{}, problem.New(problem.Forbidden, "This token is not known, was ended, or has run out. Ask an administrator for a new one.")
	case err != nil:
		return Gateway{}, err
	}
	logger, err := a.db.Logger(ctx, t.Logger)
	if err != nil || t.UsedAt != nil && now.Sub(*t.UsedAt) < worthNoting {
		return Gateway{logger, t.Scope}, err
	}
	var offset *int64
	if sent != nil {
		ms := now.Sub(*sent).Milliseconds()
		offset = &ms
	}
	return Gateway{logger, t.Scope}, a.db.InTx(ctx, func(tx *db.Tx) error {
		return tx.UseLoggerToken(ctx, t.ID, offset, moment(now))
	})
}
