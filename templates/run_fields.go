package templates

import (
	"strconv"
	"time"

	"github.com/a-h/templ"

	"settlemark/internal/words"
	"settlemark/templates/parts"
)

func inputType(in parts.Input) string {
	if in.Type == "" {
		return "text"
	}
	return in.Type
}

func choiceID(form, name string, i int) string {
	if i == 0 {
		return form + "-" + name
	}
	return form + "-" + name + "-" + strconv.Itoa(i)
}

func fieldAttributes(form string, in parts.Input, f parts.Form) templ.Attributes {
	id := form + "-" + in.Name
	a := templ.Attributes{"id": id, "name": in.Name, "autocomplete": "off", "required": in.Required}
	described := ""
	if !f.Wrong(in.Name).Empty() {
		a["aria-invalid"], a["autofocus"] = "true", true
		described = form + "-refused"
	}
	if !in.Hint.Empty() {
		if described != "" {
			described += " "
		}
		described += id + "-hint"
	}
	if described != "" {
		a["aria-describedby"] = described
	}
	if in.Mode != "" {
		a["inputmode"] = in.Mode
	}
	if in.MaxLength > 0 {
		a["maxlength"] = strconv.Itoa(in.MaxLength)
	}
	return a
}

// days that an entry may be dated to: today and yesterday, at the site.
func (v RunView) days() []parts.Option {
	today := v.Now.In(v.Zone)
	yesterday := time.Date(today.Year(), today.Month(), today.Day()-1, 12, 0, 0, 0, v.Zone)
	return []parts.Option{
		{Value: today.Format(time.DateOnly), Label: words.Say("Today, %s", today.Format(time.DateOnly))},
		{Value: yesterday.Format(time.DateOnly), Label: words.Say("Yesterday, %s", yesterday.Format(time.DateOnly))},
	}
}

func (v RunView) lateHint() words.Text {
	after := v.Procedure.LateAfter.D
	return words.Say("Both times stay on the record. Typed more than %s later it is marked late, and counts for the unit only when a supervisor accepts it.", minutesText(after))
}
