package handlers

import (
	"context"

	"settlemark/templates"
	"settlemark/web/live"
)

// rendering makes the HTML of each piece, for every screen that watches.
func rendering(ctx context.Context, pieces []templates.Piece) ([]live.Piece, error) {
	var out []live.Piece
	for _, p := range pieces {
		html, err := rendered(ctx, p.Body)
		if err != nil {
			return nil, err
		}
		out = append(out, live.Piece{Name: p.Name, HTML: html})
	}
	return out, nil
}
