package backup

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"settlemark/db"
	"settlemark/internal/certificate"
)

// verifyAll verifies the file of every certificate with the code of
// `settlemark verify`. That one is superseded or past its day is no fault of the
// backup; that it is altered or not of this site is.
func verifyAll(ctx context.Context, open *db.DB, trust certificate.Trust, r *Report) error {
	numbers, err := open.FileNumbers(ctx)
	if err != nil {
		return err
	}
	without, err := open.WithoutPDF(ctx)
	if err != nil {
		return err
	}
	faults := make([]string, len(numbers))
	var all sync.WaitGroup
	turns := make(chan struct{}, runtime.NumCPU())
	for i, number := range numbers {
		turns <- struct{}{}
		all.Go(func() {
			defer func() { <-turns }()
			faults[i] = verifyOne(ctx, open, trust, number)
		})
	}
	all.Wait()
	faults = slices.DeleteFunc(faults, func(f string) bool { return f == "" })
	r.Certificates = len(numbers) - len(faults)
	r.Faults = append(r.Faults, faults...)
	r.line("certificates", "%d of %d verified, %d have no file yet", r.Certificates, len(numbers), len(without))
	return ctx.Err()
}

func verifyOne(ctx context.Context, open *db.DB, trust certificate.Trust, number string) (fault string) {
	pdf, err := open.File(ctx, number)
	if err != nil {
		return fmt.Sprintf("certificate %s: %v", number, err)
	}
	found := trust.Verify(pdf)
	if found.Verdict != certificate.Altered && found.Verdict != certificate.NotOurs && found.Number == number {
		return ""
	}
	for _, c := range found.Checks {
		if c.Outcome == certificate.Failed || c.Outcome == certificate.Foreign {
			return fmt.Sprintf("certificate %s: %s: %s", number, c.Name, c.Text)
		}
	}
	return fmt.Sprintf("certificate %s: %s, its file says %q", number, found.Words, found.Number)
}
