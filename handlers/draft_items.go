package handlers

import (
	"net/http"
	"regexp"
	"strconv"

	"settlemark/internal/drafting"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

var aList = regexp.MustCompile(`^(quantities|sections|sections\.\d+\.steps)$`)

// ChangeDraftItems adds, removes or moves one item of a list.
func (s *Screens) ChangeDraftItems(w http.ResponseWriter, r *http.Request) error {
	draft, form, err := s.changed(r, "list", "index", "do")
	if err != nil {
		return err
	}
	list := form.Get("list")
	index, err := strconv.Atoi(form.Get("index"))
	if err != nil || !aList.MatchString(list) {
		return problem.New(problem.Invalid, "This form was not complete. Reload the page and send it again.")
	}
	sheet, err := drafting.Open(draft.Text)
	then := urls.DraftAt(draft.ID, join(list, itoa(index)))
	if err == nil && version(form) != draft.Version {
		err = problem.New(problem.Conflict, "%s saved this draft after your page was made, so nothing was changed. This is how it stands now.", draft.ChangedBy)
	}
	if err == nil {
		switch form.Get("do") {
		case "add":
			err = sheet.Add(list, index, blankItem(sheet, list))
			then = urls.DraftPart(draft.ID, join(list, itoa(index)))
		case "remove":
			err = sheet.Remove(list, index)
		case "up":
			err = sheet.Move(list, index, false)
			then = urls.DraftAt(draft.ID, join(list, itoa(index-1)))
		case "down":
			err = sheet.Move(list, index, true)
			then = urls.DraftAt(draft.ID, join(list, itoa(index+1)))
		}
	}
	if err == nil {
		_, err = s.Acts.SaveDraft(r.Context(), session.Person(r), draft.ID, draft.Version, sheet.Text(), s.Now())
	}
	if err != nil {
		if now, readErr := s.draft(r); readErr == nil {
			draft = now
		}
		v := outline(draftView(draft, parts.Form{Err: err}))
		return respond.Refused(w, r, err, templates.DraftPage(draftFrame(r, draft), v))
	}
	return respond.Redirect(w, r, then)
}

// blankItem is what a list gets to be filled in, under a name that is free.
func blankItem(s *drafting.Sheet, list string) drafting.Value {
	switch list {
	case "quantities":
		return drafting.Item(drafting.Field{Key: "key", Value: drafting.Words(free(s, "quantity"))},
			drafting.Field{Key: "label", Value: drafting.Words("New quantity")}, drafting.Field{Key: "unit", Value: drafting.Words("degC")},
			drafting.Field{Key: "max_gap", Value: drafting.Words("7m")})
	case "sections":
		return drafting.Section("New section", free(s, "line"), "New line")
	}
	return drafting.Step(free(s, "line"), "New line")
}

// free gives a name that no line and no quantity has.
func free(s *drafting.Sheet, stem string) string {
	taken := map[string]bool{}
	for i := range s.Len("quantities") {
		taken[s.Value("quantities."+itoa(i)+".key")] = true
	}
	for i := range s.Len("sections") {
		for j := range s.Len("sections." + itoa(i) + ".steps") {
			taken[s.Value("sections."+itoa(i)+".steps."+itoa(j)+".id")] = true
		}
	}
	for n := 1; ; n++ {
		if name := stem + "-" + itoa(n); !taken[name] {
			return name
		}
	}
}
