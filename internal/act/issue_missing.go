package act

import (
	"context"
	"errors"

	"settlemark/internal/problem"
)

// IssueMissing issues every release that has no file yet, and says how many
// wait for their seal. One that can't be made does not keep the others back.
func (a *Acts) IssueMissing(ctx context.Context) (waiting int, err error) {
	numbers, err := a.db.WithoutPDF(ctx)
	for _, number := range numbers {
		issued := a.Issue(ctx, number)
		if problem.KindOf(issued) == problem.Busy {
			waiting++
			continue
		}
		err = errors.Join(err, issued)
	}
	return waiting, err
}
