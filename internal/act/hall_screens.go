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

// HallScreenContent is what the proof for a new screen in a hall is bound to.
func HallScreenContent(p commissioning.PersonID) []byte {
	return auth.ContentHash("hall-screen/1", string(p))
}

// MakeHallScreen makes a screen that shows the board of a site, and gives the
// token of its link, which opens it once. Administrators may, with a proof of
// identity.
func (a *Acts) MakeHallScreen(ctx context.Context, p commissioning.Person, v commissioning.HallScreen, lasts time.Duration, s Signing, now time.Time) (string, error) {
	if err := p.MayAnywhere(commissioning.ManageScreens); err != nil {
		return "", err
	}
	var err error
	if v.Name, err = required("name", v.Name, "Say where the screen hangs."); err != nil {
		return "", err
	}
	if lasts < 24*time.Hour || lasts > longestToken {
		return "", problem.On("days", "A screen stands for 1 to 366 days. Give a number of days in between.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{HallScreenContent(p.ID), s.Nonce}, now)
	if err != nil {
		return "", err
	}
	id, token := auth.NewToken()
	v.ID, v.MadeAt, v.ExpiresAt = id, moment(now), moment(now.Add(lasts))
	err = a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		if held, err := tx.Held(ctx, db.SiteRegister, fmt.Sprint(v.Site)); err != nil || held == "" {
			return db.Note{}, noSuchSite(err)
		}
		return db.Note{
			Act: "hall screen made", Site: v.Site, Subject: v.Name, Detail: fmt.Sprintf("%s, until %s", id, v.ExpiresAt.Format(time.DateOnly)),
		}, tx.AddHallScreen(ctx, v, auth.TokenHash(token))
	})
	return token, err
}

func noSuchSite(err error) error {
	if err != nil {
		return err
	}
	return problem.On("site", "Choose the site.")
}

// EndHallScreen shuts a screen out at once; ending it again does nothing.
// Administrators may. Closing a door asks for no proof.
func (a *Acts) EndHallScreen(ctx context.Context, p commissioning.Person, id string, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManageScreens); err != nil {
		return err
	}
	key := uuid.NewString()
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		ended, err := tx.EndHallScreen(ctx, id, moment(now))
		if err != nil || len(ended) == 0 {
			return err
		}
		return tx.Note(ctx, db.Note{Key: key, By: p.ID, Act: "hall screen ended", Site: ended[0].Site, Subject: ended[0].Name, Detail: id}, moment(now))
	})
}

// OpenHallScreen takes the token of a link and gives its screen, with the secret
// of the cookie that lets the screen in from now on. A link works once, so that
// whoever reads it later in a proxy's log has nothing.
func (a *Acts) OpenHallScreen(ctx context.Context, token string, now time.Time) (screen commissioning.HallScreen, cookie string, err error) {
	_, cookie = auth.NewToken()
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		opened, err := tx.OpenHallScreen(ctx, auth.TokenHash(token), auth.TokenHash(cookie), moment(now))
		if err != nil {
			return err
		}
		if len(opened) == 0 {
			return problem.New(problem.Forbidden, "This link opens no screen: it was used, was ended, or has run out. Ask an administrator for a new one.")
		}
		screen = opened[0]
		return nil
	})
	return screen, cookie, err
}

// HallScreen finds the screen that has the cookie, and notes that it shows the
// board. One that is unknown, ended or run out is Forbidden.
func (a *Acts) HallScreen(ctx context.Context, cookie string, now time.Time) (commissioning.HallScreen, error) {
	screen, err := a.db.HallScreen(ctx, auth.TokenHash(cookie))
	switch {
	case problem.KindOf(err) == problem.NotFound || err == nil && !screen.StandsAt(now):
		return screen, problem.New(problem.Forbidden, "This screen is let in no more. Ask an administrator for a new link and open it here.")
	case err != nil || screen.UsedAt != nil && now.Sub(*screen.UsedAt) < worthNoting:
		return screen, err
	}
	return screen, a.db.InTx(ctx, func(tx *db.Tx) error { return tx.UseHallScreen(ctx, screen.ID, moment(now)) })
}
