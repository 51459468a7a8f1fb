package handlers

import (
	"net/http"
	"strconv"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowLogbook lists the entries of a run, struck ones too, a page at a time.
func (s *Screens) ShowLogbook(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	pages := templates.LogbookPages{Total: len(v.Entries), Page: number1(r, "page")}
	if seq := number1(r, "entry"); seq > 0 {
		pages.Page = templates.PageOfEntry(seq)
	}
	if r.URL.Query().Get("all") != "" {
		pages.All = true
	}
	return respond.HTML(w, r, http.StatusOK, templates.LogbookPage(runFrame(r, v, words.Say("Logbook")), v, pages))
}

// number1 reads a whole number above 0 of the address, 0 when there is none.
func number1(r *http.Request, name string) int {
	n, err := strconv.Atoi(r.URL.Query().Get(name))
	if err != nil || n < 1 {
		return 0
	}
	return n
}
