package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const trailLeaf = `select trail_leaf(@id::text::uuid)`

// TrailProof gives the leaf of the log that tells of a line of the trail, and
// the proof that it stands in the log. NotFound for a line that the person may
// not read, Busy until it is sealed.
func (d *DB) TrailProof(ctx context.Context, p commissioning.Person, id string) (leaf, proof []byte, err error) {
	rows, err := d.Trail(ctx, p, TrailFilter{ID: id, Limit: 1})
	if err != nil {
		return nil, nil, err
	}
	if len(rows) == 0 {
		return nil, nil, problem.New(problem.NotFound, "There is no such thing.")
	}
	if leaf, err = value[[]byte](ctx, d.pool, trailLeaf, args{"id": id}); err != nil {
		return nil, nil, err
	}
	proof, err = d.logProof(ctx, leaf)
	return leaf, proof, err
}
