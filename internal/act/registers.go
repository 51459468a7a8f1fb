package act

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// note runs save and writes the act that save gives, once: the key finds it
// when an earlier commit's outcome was unknown.
func (a *Acts) note(ctx context.Context, by commissioning.PersonID, now time.Time, save func(tx *db.Tx) (db.Note, error)) error {
	key := uuid.NewString()
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if done, err := tx.Noted(ctx, key); err != nil || done {
			return err
		}
		n, err := save(tx)
		if err != nil {
			return err
		}
		n.Key, n.By = key, by
		return tx.Note(ctx, n, moment(now))
	})
}

// change is note for an act that changes what a register holds under a key. The
// act carries what stood there before and what stands there after; key is asked
// again after save, since what is new gets its key there.
func (a *Acts) change(ctx context.Context, by commissioning.PersonID, now time.Time, r db.Register, key func() string,
	save func(tx *db.Tx) (db.Note, error),
) error {
	return a.note(ctx, by, now, func(tx *db.Tx) (db.Note, error) {
		was, err := tx.Held(ctx, r, key())
		if err != nil {
			return db.Note{}, err
		}
		n, err := save(tx)
		if err != nil {
			return n, err
		}
		n.Was = was
		n.Became, err = tx.Held(ctx, r, key())
		return n, err
	})
}

func fixed(key string) func() string { return func() string { return key } }

// SaveSite adds a site (ID 0) or changes one. Administrators may.
func (a *Acts) SaveSite(ctx context.Context, p commissioning.Person, v commissioning.Site, now time.Time) (commissioning.Site, error) {
	if err := p.MayAnywhere(commissioning.ManageSites); err != nil {
		return v, err
	}
	var err error
	if v.Name, err = required("name", v.Name, "Give the site a name."); err != nil {
		return v, err
	}
	if _, err := time.LoadLocation(v.TimeZone); err != nil || v.TimeZone == "" || v.TimeZone == "Local" {
		return v, problem.On("time_zone", "%q is no time zone. Give a name such as Europe/Dublin.", v.TimeZone)
	}
	if v.Paper != "A4" && v.Paper != "Letter" {
		return v, problem.On("paper", "The paper is A4 or Letter. Choose one.")
	}
	if err := errors.Join(knownLanguage(v.Language), knownUnits(v.Units)); err != nil {
		return v, err
	}
	saved := v
	err = a.change(ctx, p.ID, now, db.SiteRegister, func() string { return fmt.Sprint(saved.ID) }, func(tx *db.Tx) (db.Note, error) {
		id, err := tx.SaveSite(ctx, v)
		saved.ID = id
		return db.Note{Act: "site saved", Site: id, Subject: v.Name, Detail: v.TimeZone + ", " + v.Paper}, err
	})
	return saved, err
}

// SaveLine adds a line (ID 0) or renames one. Supervisors of the site and
// administrators may.
func (a *Acts) SaveLine(ctx context.Context, p commissioning.Person, v commissioning.Line, now time.Time) (commissioning.Line, error) {
	if err := p.May(commissioning.ManageRegisters, v.Site); err != nil {
		return v, err
	}
	var err error
	if v.Name, err = required("name", v.Name, "Give the line a name."); err != nil {
		return v, err
	}
	saved := v
	err = a.change(ctx, p.ID, now, db.LineRegister, func() string { return fmt.Sprint(saved.ID) }, func(tx *db.Tx) (db.Note, error) {
		id, err := tx.SaveLine(ctx, v)
		saved.ID = id
		return db.Note{Act: "line saved", Site: v.Site, Subject: v.Name}, err
	})
	return saved, err
}

// SaveBench adds a bench (ID 0) or renames one. Supervisors of the site and
// administrators may.
func (a *Acts) SaveBench(ctx context.Context, p commissioning.Person, v commissioning.Bench, now time.Time) (commissioning.Bench, error) {
	if err := p.May(commissioning.ManageRegisters, v.Site); err != nil {
		return v, err
	}
	var err error
	if v.Name, err = required("name", v.Name, "Give the bench a name."); err != nil {
		return v, err
	}
	saved := v
	err = a.change(ctx, p.ID, now, db.BenchRegister, func() string { return fmt.Sprint(saved.ID) }, func(tx *db.Tx) (db.Note, error) {
		id, err := tx.SaveBench(ctx, v)
		saved.ID = id
		return db.Note{Act: "bench saved", Site: v.Site, Subject: v.Name}, err
	})
	return saved, err
}

// SaveInstrument adds an instrument (ID 0) or changes one; it keeps its site and
// its code. Supervisors of the site and administrators may.
func (a *Acts) SaveInstrument(ctx context.Context, p commissioning.Person, v commissioning.Instrument, now time.Time) (commissioning.Instrument, error) {
	if err := p.May(commissioning.ManageRegisters, v.Site); err != nil {
		return v, err
	}
	v, err := v.Checked()
	if err != nil {
		return v, err
	}
	saved := v
	err = a.change(ctx, p.ID, now, db.InstrumentRegister, func() string { return fmt.Sprint(saved.ID) }, func(tx *db.Tx) (db.Note, error) {
		id, err := tx.SaveInstrument(ctx, v)
		if problem.KindOf(err) == problem.Conflict {
			err = problem.On("code", "This site has an instrument with this code. Change that one, or give this one another code.")
		}
		saved.ID = id
		return db.Note{
			Act: "instrument saved", Site: v.Site, Subject: v.Code,
			Detail: fmt.Sprintf("%s, serial %s, %s, uncertainty %s %s, k %s, due %s", v.Name, v.Serial, v.Quantity, v.Uncertainty, v.Unit, v.K, v.Due),
		}, err
	})
	return saved, err
}

// SaveFluid adds or changes the fluid with this code. Supervisors and
// administrators may; fluids are the same at every site.
func (a *Acts) SaveFluid(ctx context.Context, p commissioning.Person, v commissioning.Fluid, now time.Time) (commissioning.Fluid, error) {
	if err := p.MayAnywhere(commissioning.ManageRegisters); err != nil {
		return v, err
	}
	var err error
	if v.Code, err = required("code", v.Code, "Give the fluid a code, as it stands on the container."); err != nil {
		return v, err
	}
	if v.Position != commissioning.Ink && v.Position != commissioning.MakeUp {
		return v, problem.On("position", "A fluid is an ink or a make-up. Choose one.")
	}
	if v.Figures, err = v.Figures.Checked(); err != nil {
		return v, err
	}
	err = a.change(ctx, p.ID, now, db.FluidRegister, fixed(v.Code), func(tx *db.Tx) (db.Note, error) {
		return db.Note{
			Act: "fluid saved", Subject: v.Code,
			Detail: strings.TrimSuffix(fmt.Sprintf("%s, %s, %s; %s", v.Name, v.Position, v.Base, v.Figures.Words()), "; "),
		}, tx.SaveFluid(ctx, v)
	})
	return v, err
}

// SaveUnit adds or changes the unit with this tag; a unit stays at its site.
// Supervisors of the site and administrators may. Runs that are open keep what
// they were opened on.
func (a *Acts) SaveUnit(ctx context.Context, p commissioning.Person, v commissioning.Unit, now time.Time) (commissioning.Unit, error) {
	if err := p.May(commissioning.ManageRegisters, v.Site); err != nil {
		return v, err
	}
	var err error
	if v.Tag, err = required("tag", v.Tag, "Give the unit's tag."); err != nil {
		return v, err
	}
	if strings.ContainsAny(v.Tag, " /?#%\\") || len(v.Tag) > 40 {
		return v, problem.On("tag", "A tag has up to 40 characters, without spaces and slashes. Shorten it.")
	}
	err = a.change(ctx, p.ID, now, db.UnitRegister, fixed(v.Tag), func(tx *db.Tx) (db.Note, error) {
		for _, fluid := range []struct {
			field, code string
			position    commissioning.Position
		}{{"ink", v.Ink, commissioning.Ink}, {"makeup", v.Makeup, commissioning.MakeUp}} {
			if err := isFluid(ctx, tx, fluid.field, fluid.code, fluid.position); err != nil {
				return db.Note{}, err
			}
		}
		err := tx.SaveUnit(ctx, v)
		if problem.KindOf(err) == problem.NotFound {
			err = problem.On("tag", "Another site has a unit with this tag. Tags are unique over all sites; choose another.")
		}
		return db.Note{
			Act: "unit saved", Site: v.Site, Unit: v.Tag, Subject: v.Tag,
			Detail: fmt.Sprintf("serial %s, ink %s, make-up %s", v.Serial, v.Ink, v.Makeup),
		}, err
	})
	return v, err
}

func isFluid(ctx context.Context, tx *db.Tx, field, code string, position commissioning.Position) error {
	fluid, err := tx.Fluid(ctx, code)
	if problem.KindOf(err) == problem.NotFound || err == nil && fluid.Position != position {
		return problem.On(field, "%q is not in the list of fluids for this place. Add it there first.", code)
	}
	return err
}

// SaveLogger adds a gateway (ID "") or changes which units it reports for.
// Supervisors of the site and administrators may.
func (a *Acts) SaveLogger(ctx context.Context, p commissioning.Person, v commissioning.Logger, now time.Time) (commissioning.Logger, error) {
	if err := p.May(commissioning.ManageRegisters, v.Site); err != nil {
		return v, err
	}
	var err error
	if v.Name, err = required("name", v.Name, "Give the logger a name."); err != nil {
		return v, err
	}
	saved := v
	err = a.change(ctx, p.ID, now, db.LoggerRegister, func() string { return saved.ID }, func(tx *db.Tx) (db.Note, error) {
		id, err := tx.SaveLogger(ctx, v)
		saved.ID = id
		return db.Note{Act: "logger saved", Site: v.Site, Subject: id, Detail: strings.Join(v.Units, ", ")}, err
	})
	return saved, err
}
