package act

import (
	"context"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// ChooseLanguage says in which language the person reads pages; "" is that of
// their site. It changes no record.
func (a *Acts) ChooseLanguage(ctx context.Context, p commissioning.Person, language string) error {
	if err := knownLanguage(language); err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.SetLanguage(ctx, p.ID, language) })
}

func knownLanguage(code string) error {
	if _, known := words.Known(code); code != "" && !known {
		return problem.On("language", "Settlemark is not written in this language. Choose one from the list.")
	}
	return nil
}
