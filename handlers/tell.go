package handlers

import (
	"context"
	"net/http"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowTell is where a person chooses how a device tells them.
func (s *Screens) ShowTell(w http.ResponseWriter, r *http.Request) error {
	return respond.HTML(w, r, http.StatusOK, templates.TellPage(respond.Frame(r, words.Say("Tell me"), templates.Account)))
}

// newestNotice gives the newest notice of a run, nil when there is none.
func (s *Screens) newestNotice(ctx context.Context, run commissioning.RunID) (*commissioning.Notice, error) {
	return newest(s.DB.RunNotice(ctx, run))
}

func newest(n commissioning.Notice, err error) (*commissioning.Notice, error) {
	if problem.KindOf(err) == problem.NotFound {
		return nil, nil
	}
	return &n, err
}
