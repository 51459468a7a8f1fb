package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const certificatePDF = `
select p.pdf, encode(p.digest, 'hex') as sha256
from releases c left join certificate_pdfs p on p.number = c.number
where c.number = @number and (@all or c.site_id = any(@sites))`

// CertificatePDF gives the file and its SHA-256 in hex. It is Busy in the short
// time between the release and the making of the file.
func (d *DB) CertificatePDF(ctx context.Context, p commissioning.Person, n commissioning.CertificateNumber) (pdf []byte, sha256 string, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CertificatePDF(%s, %s)", p.ID, n)
	all, sites := evidence(p)
	type file struct {
		PDF    []byte  `db:"pdf"`
		SHA256 *string `db:"sha256"`
	}
	f, err := one[file](ctx, d.pool, certificatePDF, args{"number": n, "all": all, "sites": sites})
	if err != nil {
		return nil, "", err
	}
	if f.SHA256 == nil {
		return nil, "", problem.New(problem.Busy, "The certificate is released and its file is being made. Try again in a moment.")
	}
	return f.PDF, *f.SHA256, nil
}

const withoutPDF = `
select c.number from releases c
where not exists (select 1 from certificate_pdfs p where p.number = c.number)
order by c.released_at`

// WithoutPDF gives the releases whose file is still to be made.
func (d *DB) WithoutPDF(ctx context.Context) (_ []commissioning.CertificateNumber, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "WithoutPDF")
	return column[commissioning.CertificateNumber](ctx, d.pool, withoutPDF, args{})
}

const document = `select document from releases where number = @number`

// Document gives the canonical JSON of all that the certificate says. It is not
// scoped: for the making of the file, not for pages.
func (d *DB) Document(ctx context.Context, n commissioning.CertificateNumber) (_ []byte, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Document(%s)", n)
	return value[[]byte](ctx, d.pool, document, args{"number": n})
}

const documentPhotos = `
select encode(p.digest, 'hex') as sha256, p.bytes
from releases c join photos p on p.run_id = c.run_id
where c.number = @number`

// DocumentPhotos gives the photos of the released run by SHA-256 in hex.
func (d *DB) DocumentPhotos(ctx context.Context, n commissioning.CertificateNumber) (_ map[string][]byte, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "DocumentPhotos(%s)", n)
	type row struct {
		SHA256 string `db:"sha256"`
		Bytes  []byte
	}
	rows, err := list[row](ctx, d.pool, documentPhotos, args{"number": n})
	all := map[string][]byte{}
	for _, r := range rows {
		all[r.SHA256] = r.Bytes
	}
	return all, err
}

const storePDF = `select store_pdf(@number, @pdf)`

// StorePDF keeps the file where none is kept yet.
func (t *Tx) StorePDF(ctx context.Context, n commissioning.CertificateNumber, pdf []byte) error {
	return t.exec(ctx, storePDF, args{"number": n, "pdf": pdf})
}
