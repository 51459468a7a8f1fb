package act

import (
	"context"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// ChangeProposed is the act under which a proposal is found again.
const ChangeProposed = "change proposed"

// Registers that a proposal may be about.
var Registers = []string{"unit", "fluid", "line", "bench", "instrument"}

// Proposal is what an engineer would have changed in a register.
type Proposal struct {
	Site  commissioning.SiteID
	About string // one of Registers
	Text  string
}

// Propose notes a proposal; whoever may change the register reads it and makes
// the change, or not. Engineers of the site may.
func (a *Acts) Propose(ctx context.Context, p commissioning.Person, v Proposal, now time.Time) error {
	if v.Site == 0 {
		return problem.On("site", "Choose the site.")
	}
	if err := p.May(commissioning.ProposeChange, v.Site); err != nil {
		return err
	}
	if !slices.Contains(Registers, v.About) {
		return problem.On("about", "Choose what the proposal is about.")
	}
	text, err := required("text", v.Text, "Say what should be changed, and why.")
	if err != nil {
		return err
	}
	return a.note(ctx, p.ID, now, func(*db.Tx) (db.Note, error) {
		return db.Note{Act: ChangeProposed, Site: v.Site, Subject: v.About, Detail: v.About + ": " + text}, nil
	})
}
