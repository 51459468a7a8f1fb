package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const photos = `
select run_id::text as run, encode(digest, 'hex') as sha256, encode(original, 'hex') as original_sha256, media_type,
  width, height, length(bytes) as size, person_id as by, stored_at
from photos where run_id = @run order by stored_at, digest`

const photo = `
select p.run_id::text as run, encode(p.digest, 'hex') as sha256, encode(p.original, 'hex') as original_sha256, p.media_type,
  p.width, p.height, length(p.bytes) as size, p.person_id as by, p.stored_at, p.bytes
from photos p join runs r on r.id = p.run_id
where p.run_id = @run and encode(p.digest, 'hex') = @sha256 and (@all or r.site_id = any(@sites))`

// Photo gives a photo of a run of a site that the person may read.
func (d *DB) Photo(ctx context.Context, p commissioning.Person, run commissioning.RunID, sha256 string) (_ PhotoBytes, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Photo(%s, %s, %s)", p.ID, run, sha256)
	all, sites := evidence(p)
	return one[PhotoBytes](ctx, d.pool, photo, args{"run": run, "sha256": sha256, "all": all, "sites": sites})
}

const photoSent = `
select p.run_id::text as run, encode(p.digest, 'hex') as sha256, encode(p.original, 'hex') as original_sha256, p.media_type,
  p.width, p.height, length(p.bytes) as size, p.person_id as by, p.stored_at
from photos p join runs r on r.id = p.run_id
where p.run_id = @run and encode(p.original, 'hex') = @sha256 and (@all or r.site_id = any(@sites))
order by p.stored_at limit 1`

// PhotoSent gives the photo that was made of what somebody sent, by the SHA-256
// of that.
func (d *DB) PhotoSent(ctx context.Context, p commissioning.Person, run commissioning.RunID, sha256 string) (_ Photo, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "PhotoSent(%s, %s, %s)", p.ID, run, sha256)
	all, sites := evidence(p)
	return one[Photo](ctx, d.pool, photoSent, args{"run": run, "sha256": sha256, "all": all, "sites": sites})
}

const storePhoto = `
select store_photo(@run, @person, @original, @media_type, @width, @height, @bytes)`

// StorePhoto keeps a photo of an open run; the same bytes again do nothing.
// original is the SHA-256 of what was sent.
func (t *Tx) StorePhoto(ctx context.Context, p PhotoBytes, original []byte) error {
	return t.exec(ctx, storePhoto, args{
		"run": p.Run, "person": p.By, "original": original, "media_type": p.MediaType,
		"width": p.Width, "height": p.Height, "bytes": p.Bytes,
	})
}

// Photos gives the photos of a run as of this transaction, without their bytes.
func (t *Tx) Photos(ctx context.Context, run commissioning.RunID) ([]Photo, error) {
	return list[Photo](ctx, t.tx, photos, args{"run": run})
}
