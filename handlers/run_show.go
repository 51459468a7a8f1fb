package handlers

import (
	"context"
	"net/http"
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowRun is the page of a run: whoever may read it, may look; the pen holder
// finds the forms in it.
func (s *Screens) ShowRun(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, runPage(r, v))
}

func runPage(r *http.Request, v templates.RunView) templ.Component {
	return templates.RunPage(runFrame(r, v, words.Plain(v.SectionTitle())), v)
}

// RunEvents streams the changes of a run to somebody who may read it.
func (s *Screens) RunEvents(w http.ResponseWriter, r *http.Request) error {
	run, err := s.DB.Run(r.Context(), session.Person(r), runID(r))
	if err != nil {
		return err
	}
	return s.Live.ServeRun(w, r, run.ID, s.watcher(r))
}

func rendered(ctx context.Context, c templ.Component) (string, error) {
	var html strings.Builder
	err := c.Render(ctx, &html)
	return html.String(), err
}
