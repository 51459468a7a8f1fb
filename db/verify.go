package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const byCode = `
select c.number, c.run, c.run_number, c.unit, c.site, c.site_name, c.time_zone, c.line, c.engineer, c.supervisor, c.released_at,
  c.valid_until, c.superseded_by, c.superseded_at, c.superseded_name, c.withdrawn_at, c.withdrawn_by, c.withdrawn_for,
  c.withdrawn_cause, c.lots, c.has_pdf, c.pdf_hash, c.demo
from certificate_rows c join releases r on r.number = c.number
where c.number = @number and starts_with(encode(r.digest, 'hex'), @digits)`

// CertificateByCode gives the certificate of that number whose document's hash
// begins with the digits. It asks for no person: whoever holds the paper holds
// the code. NotFound when number and digits do not belong together.
func (d *DB) CertificateByCode(ctx context.Context, n commissioning.CertificateNumber, digits string) (_ commissioning.Certificate, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CertificateByCode(%s)", n)
	return one[commissioning.Certificate](ctx, d.pool, byCode, args{"number": n, "digits": digits})
}
