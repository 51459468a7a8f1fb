package handlers

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// mostTags on one sheet: more is a slip of the finger.
const mostTags = 60

// ShowTags is a sheet of tags with QR codes, to be printed: of a lot where one
// is asked for, else of every unit.
func (s *Screens) ShowTags(w http.ResponseWriter, r *http.Request) error {
	asked := r.URL.Query()
	f := respond.Frame(r, words.Say("Tags to print"), templates.Units)
	v := templates.TagsView{Form: parts.Form{Values: asked}}
	fluids, err := s.DB.Fluids(r.Context())
	if err != nil {
		return err
	}
	for _, fluid := range fluids {
		v.Fluids = append(v.Fluids, parts.Option{Value: fluid.Code, Label: words.Plain(fluid.Code + ", " + fluid.Name)})
	}
	if asked.Has("lot") {
		if v.Tags, err = lotTags(asked); err != nil {
			v.Form.Err = err
			return respond.Refused(w, r, err, templates.TagsPage(f, v))
		}
		return respond.HTML(w, r, http.StatusOK, templates.TagsPage(f, v))
	}
	units, err := s.DB.Units(r.Context(), session.Person(r))
	if err != nil {
		return err
	}
	for _, u := range units {
		v.Tags = append(v.Tags, templates.Tag{Says: urls.UnitTag(s.PublicURL, u.Tag), Name: u.Tag, Lines: []words.Text{words.Say("Ink %s", u.Ink), words.Say("Make-up %s", u.Makeup)}})
	}
	return respond.HTML(w, r, http.StatusOK, templates.TagsPage(f, v))
}

func lotTags(asked url.Values) ([]templates.Tag, error) {
	fluid, lot, expires := strings.TrimSpace(asked.Get("fluid")), strings.TrimSpace(asked.Get("lot")), asked.Get("expires")
	if fluid == "" {
		return nil, problem.On("fluid", "Choose the fluid.")
	}
	if lot == "" || len(lot) > 60 {
		return nil, problem.On("lot", "Type the lot as it is printed on the container's own label.")
	}
	if _, err := time.Parse(time.DateOnly, expires); err != nil {
		return nil, problem.On("expires", "Type the use-by date of the container's own label as year-month-day, like 2027-03-31.")
	}
	count, err := strconv.Atoi(asked.Get("count"))
	if err != nil || count < 1 || count > mostTags {
		return nil, problem.On("count", "Type how many containers there are, from 1 to %d.", mostTags)
	}
	tags := make([]templates.Tag, count)
	for i := range tags {
		tags[i] = templates.Tag{Says: urls.LotTag(fluid, lot, expires), Name: fluid, Lines: []words.Text{words.Say("Lot %s", lot), words.Say("Use by %s", expires)}}
	}
	return tags, nil
}
