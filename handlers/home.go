package handlers

import (
	"net/http"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// starts leads to the first page that the person may see, most urgent first.
var starts = []struct {
	action commissioning.Action
	url    string
}{
	{commissioning.SeeBoard, urls.BoardPattern},
	{commissioning.OpenRun, urls.RunsPattern},
	{commissioning.ManagePeople, urls.PeoplePattern},
}

// Home sends a person to where their work is.
func (s *Screens) Home(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	for _, start := range starts {
		if p.MayAnywhere(start.action) == nil {
			return respond.Redirect(w, r, start.url)
		}
	}
	return respond.Redirect(w, r, urls.AccountPattern)
}

// Health answers once the app serves and its database answers.
func (s *Screens) Health(w http.ResponseWriter, r *http.Request) error {
	if err := s.DB.Ping(r.Context()); err != nil {
		w.Header().Set("Retry-After", "1")
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return nil
	}
	trouble, err := s.Acts.LogTrouble(r.Context(), s.Now())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	text := "ok\n"
	if !trouble.Empty() { // the app serves nevertheless; who watches it should tell somebody
		text += trouble.String() + "\n"
	}
	_, err = w.Write([]byte(text))
	return err
}
