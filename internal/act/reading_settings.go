package act

import (
	"context"
	"errors"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// ChooseReading says in which language the person reads pages, and which local
// units stand beside those of records; "" is that of their site. It changes no
// record.
func (a *Acts) ChooseReading(ctx context.Context, p commissioning.Person, language, units string) error {
	if err := errors.Join(knownLanguage(language), knownUnits(units)); err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.SetReading(ctx, p.ID, language, units) })
}

func knownUnits(set string) error {
	if !commissioning.KnowsUnits(set) {
		return problem.On("units", "Settlemark does not write these units. Choose some from the list.")
	}
	return nil
}

func knownLanguage(code string) error {
	if _, known := words.Known(code); code != "" && !known {
		return problem.On("language", "Settlemark is not written in this language. Choose one from the list.")
	}
	return nil
}
