package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const certificates = `
select number, run, run_number, unit, site, site_name, time_zone, line, engineer, supervisor, released_at, valid_until,
  superseded_by, superseded_at, superseded_name, withdrawn_at, withdrawn_by, withdrawn_for, withdrawn_cause, lots, has_pdf, pdf_hash, demo
from certificate_rows
where (@all or site = any(@sites))
  and (@numbers::text[] is null or number = any(@numbers))
  and (@of_unit = '' or unit = @of_unit)
  and (@unit = '' or unit ilike '%' || @unit || '%')
  and (@line = '' or line ilike '%' || @line || '%')
  and (@engineer = '' or engineer ilike '%' || @engineer || '%')
  and (@lot = '' or exists (select 1 from unnest(lots) as lot where lot ilike '%' || @lot || '%'))
  and (@from::timestamptz is null or released_at >= @from)
  and (@to::timestamptz is null or released_at <= @to)
  and (@status = '' or @status = case
    when withdrawn_at is not null then 'withdrawn'
    when superseded_by <> '' then 'superseded'
    when valid_until < @now then 'expired'
    else 'valid' end
    or @status = 'ending-soon' and withdrawn_at is null and superseded_by = '' and valid_until between @now and @soon)
order by released_at desc, number desc
limit @limit offset @offset`

func certificateArgs(p commissioning.Person, f CertificateFilter, now time.Time) args {
	all, sites := evidence(p)
	if f.Limit == 0 {
		f.Limit = 200
	}
	return args{
		"all": all, "sites": sites, "numbers": f.Numbers, "of_unit": f.OfUnit, "unit": f.Unit, "line": f.Line, "engineer": f.Engineer, "lot": f.Lot,
		"from": f.From, "to": f.To, "status": f.Status, "now": now, "soon": now.Add(commissioning.RenewWithin),
		"limit": f.Limit, "offset": f.Offset,
	}
}

// Certificates gives the certificates of the sites that the person may read,
// newest release first. Words in the filter may stand anywhere in the field.
func (d *DB) Certificates(ctx context.Context, p commissioning.Person, f CertificateFilter, now time.Time) (_ []commissioning.Certificate, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Certificates(%s)", p.ID)
	return list[commissioning.Certificate](ctx, d.pool, certificates, certificateArgs(p, f, now))
}

// Certificate gives one certificate of a site that the person may read.
func (d *DB) Certificate(ctx context.Context, p commissioning.Person, n commissioning.CertificateNumber) (_ commissioning.Certificate, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Certificate(%s, %s)", p.ID, n)
	if n == "" {
		return commissioning.Certificate{}, problem.New(problem.NotFound, "There is no such certificate.")
	}
	a := certificateArgs(p, CertificateFilter{Numbers: []commissioning.CertificateNumber{n}}, time.Time{})
	return one[commissioning.Certificate](ctx, d.pool, certificates, a)
}

const newestCertificate = `
select number from releases c
where unit = @unit and not exists (select 1 from releases n where n.unit = c.unit and n.previous = c.number)`

// Standing gives the newest certificate of the unit, "" when there is none. The
// next release supersedes it.
func (t *Tx) Standing(ctx context.Context, unit string) (commissioning.CertificateNumber, error) {
	found, err := column[commissioning.CertificateNumber](ctx, t.tx, newestCertificate, args{"unit": unit})
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}

const withdraw = `select withdraw_certificate(@number, @person, @reason, @now)`

// Withdraw withdraws a certificate, for quality only. The PDF stays as it is.
func (t *Tx) Withdraw(ctx context.Context, n commissioning.CertificateNumber, by commissioning.PersonID, reason string, now time.Time) error {
	return t.exec(ctx, withdraw, args{"number": n, "person": by, "reason": reason, "now": now})
}
