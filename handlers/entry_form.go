package handlers

import (
	"encoding/json"
	"net/url"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
)

// Fields that any entry form may carry.
var entryFields = []string{"id", "form", "kind", "note", "sure", "taken_day", "taken_at", "taken_why"}

// Fields of each kind besides those; what is not listed is refused.
var kindFields = map[commissioning.Kind][]string{
	commissioning.KindStep:         {"step", "outcome", "value", "unit", "text", "choice"},
	commissioning.KindReading:      {"quantity", "value", "unit", "state"},
	commissioning.KindStart:        {"step"},
	commissioning.KindStop:         {},
	commissioning.KindFault:        {"fault"},
	commissioning.KindFaultCleared: {"ref", "how"},
	commissioning.KindLoad:         {"step", "position", "via", "fluid", "fluid_again", "lot", "expires", "level_percent"},
	commissioning.KindDrain:        {"step", "container", "volume_ml"},
	commissioning.KindEmpty:        {"container", "route"},
	commissioning.KindPhoto:        {"step", "photo"}, // of a tablet; a form carries its photo
	commissioning.KindNote:         {"text", "to", "cup", "seconds", "celsius", "density"},
	commissioning.KindCorrection: {
		"strikes", "reason", "replace", "value", "unit", "text", "choice", "state",
		"volume_ml", "fluid", "lot", "expires", "level_percent", "fault",
	},
}

// formEntry reads one entry from a form of the run. It makes the same JSON
// that a program would send, so there is one decoder for both.
func formEntry(form url.Values, v templates.RunView, codes []commissioning.Fluid) (commissioning.Entry, error) {
	kind := commissioning.Kind(form.Get("kind"))
	body, err := formBody(kind, form, v, codes)
	if err != nil {
		return commissioning.Entry{}, err
	}
	body["kind"] = kind
	if err := addTimes(body, form, v); err != nil {
		return commissioning.Entry{}, err
	}
	body["id"], body["via"] = form.Get("id"), "typed"
	if form.Get("via") == "scan" {
		body["via"] = "scan"
	}
	data, err := json.Marshal(body)
	if err != nil {
		return commissioning.Entry{}, err
	}
	e, err := commissioning.DecodeEntry(data, v.Procedure)
	return e, plainly(err)
}

// formBody reads what only this kind carries.
func formBody(kind commissioning.Kind, form url.Values, v templates.RunView, codes []commissioning.Fluid) (map[string]any, error) {
	switch kind {
	case commissioning.KindStep:
		return stepBody(form, v)
	case commissioning.KindReading:
		return readingBody(form, v)
	case commissioning.KindLoad:
		return loadBody(form, codes)
	case commissioning.KindDrain:
		volume, err := decimalField(form, "volume_ml", "the volume in mL")
		return map[string]any{"step": form.Get("step"), "container": form.Get("container"), "volume_ml": volume}, err
	case commissioning.KindFault:
		return faultBody(form)
	case commissioning.KindFaultCleared:
		how, err := textField(form, "how", "Say what cleared the fault.")
		return map[string]any{"ref": json.Number(form.Get("ref")), "how": how}, err
	case commissioning.KindEmpty:
		if form.Get("container") == "" {
			return nil, problem.On("container", "Choose the container that was emptied.")
		}
		route, err := textField(form, "route", "Say where the waste went.")
		return map[string]any{"container": form.Get("container"), "route": route}, err
	case commissioning.KindNote:
		return noteBody(form, v)
	case commissioning.KindCorrection:
		return correctionBody(form, v, codes)
	case commissioning.KindStart:
		return withStep(map[string]any{}, form), nil
	case commissioning.KindStop:
		return map[string]any{}, nil
	}
	return nil, problem.New(problem.Invalid, "This form is of no kind that a run takes. Reload the page and send it again.")
}

func withStep(body map[string]any, form url.Values) map[string]any {
	if step := form.Get("step"); step != "" {
		body["step"] = step
	}
	return body
}

// plainly turns the decoder's path into a sentence for somebody at a form.
func plainly(err error) error {
	var p *problem.Error
	if err == nil || !asProblem(err, &p) {
		return err
	}
	field := strings.TrimPrefix(p.Field, "$.")
	_, expected, found := strings.Cut(p.Sentence.String(), ": ")
	if !found {
		expected = p.Sentence.String()
	}
	return &problem.Error{Kind: p.Kind, Field: field, Sentence: words.Say("This was not taken: %s. Correct it and send it again.", expected), Cause: err}
}

func textField(form url.Values, field, sentence string) (string, error) {
	if form.Get(field) == "" {
		return "", problem.On(field, sentence)
	}
	return form.Get(field), nil
}

// decimalField reads a number as people type it: a comma will do as the mark.
func decimalField(form url.Values, field, what string) (string, error) {
	typed := form.Get(field)
	if typed == "" {
		return "", problem.On(field, "Type %s.", what)
	}
	if marks := strings.Count(typed, ".") + strings.Count(typed, ","); marks > 1 {
		return "", problem.On(field, "“%s” can be read in two ways. Type one decimal mark, and nothing between the thousands.", typed)
	}
	text := strings.Replace(typed, ",", ".", 1)
	if _, err := measure.Parse(text); err != nil || strings.ContainsAny(text, "eE") {
		return "", problem.On(field, "“%s” is no number. Type digits with one decimal mark, like 4.52.", typed)
	}
	return text, nil
}

// addTimes dates the entry: now by the server's clock, or earlier in site time
// with both times kept and the reason in the note.
func addTimes(body map[string]any, form url.Values, v templates.RunView) error {
	observed, note := v.Now, form.Get("note")
	if form.Get("taken_at") != "" {
		at, err := takenAt(form, v)
		if err != nil {
			return err
		}
		why := form.Get("taken_why")
		if why == "" {
			return problem.On("taken_why", "Say why it was not typed when it was taken.")
		}
		observed = at
		if note != "" {
			note += " "
		}
		note += "Typed later: " + why
	}
	body["observed_at"] = observed.UTC().Format(time.RFC3339Nano)
	body["captured_at"] = v.Now.UTC().Format(time.RFC3339Nano)
	if _, fixed := body["note"]; note != "" && !fixed {
		body["note"] = note
		return commissioning.Entry{Kind: commissioning.Kind(form.Get("kind")), Note: note}.NoPen()
	}
	return nil
}

// takenAt reads day and time at the site. The hour that a clock change leaves
// out is refused; of the hour that it repeats the later one counts, unless that
// is still to come.
func takenAt(form url.Values, v templates.RunView) (time.Time, error) {
	day := form.Get("taken_day")
	if day == "" {
		day = v.Now.In(v.Zone).Format(time.DateOnly)
	}
	layout := "2006-01-02 15:04"
	if strings.Count(form.Get("taken_at"), ":") == 2 {
		layout = "2006-01-02 15:04:05"
	}
	text := padHour(day + " " + form.Get("taken_at"))
	at, err := time.ParseInLocation(layout, text, v.Zone)
	if err != nil {
		return at, problem.On("taken_at", "“%s” is no time of day. Type hours and minutes, like 14:07.", form.Get("taken_at"))
	}
	if at.Format(layout) != text {
		return at, problem.On("taken_at", "%s did not exist at the site that day: the clocks went forward. Type the time that the clock showed.", form.Get("taken_at"))
	}
	return inRun(ofTwo(at, layout, v.Now), v)
}

// ofTwo picks the later of two instants that the clock shows alike, unless that
// is still to come.
func ofTwo(at time.Time, layout string, now time.Time) time.Time {
	for _, other := range []time.Time{at.Add(-time.Hour), at.Add(time.Hour)} {
		alike := other.Format(layout) == at.Format(layout)
		if alike && (at.After(now) || other.After(at) && !other.After(now)) {
			at = other
		}
	}
	return at
}

// padHour writes "9:05" as "09:05".
func padHour(text string) string {
	day, clock, _ := strings.Cut(text, " ")
	if strings.Index(clock, ":") == 1 {
		clock = "0" + clock
	}
	return day + " " + clock
}

// inRun keeps an instant between the opening of the run and now. The minute in
// which the run was opened counts from its opening on.
func inRun(at time.Time, v templates.RunView) (time.Time, error) {
	opened := v.Run.OpenedAt
	switch {
	case at.After(v.Now):
		return at, problem.On("taken_at", "%s is still to come. Type the time at which it was taken.", v.Clock(at))
	case at.Before(opened) && at.Equal(opened.Truncate(time.Minute)):
		return opened, nil
	case at.Before(opened):
		return at, problem.On("taken_at", "%s lies before the run was opened, at %s. Type a time after that, or leave it out.", v.Clock(at), v.Clock(opened))
	}
	return at, nil
}
