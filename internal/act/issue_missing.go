package act

import (
	"context"
	"errors"
)

// IssueMissing issues every release that has no file yet. One that can't be
// made does not keep the others back.
func (a *Acts) IssueMissing(ctx context.Context) error {
	numbers, err := a.db.WithoutPDF(ctx)
	for _, number := range numbers {
		err = errors.Join(err, a.Issue(ctx, number))
	}
	return err
}
