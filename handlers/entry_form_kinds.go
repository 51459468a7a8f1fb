package handlers

import (
	"encoding/json"
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/templates"
)

func asProblem(err error, p **problem.Error) bool { return errors.As(err, p) }

// stepBody reads the answer to a line by what the line asks.
func stepBody(form url.Values, v templates.RunView) (map[string]any, error) {
	step := v.Step(form.Get("step"))
	if step == nil {
		return nil, problem.New(problem.Invalid, "This procedure has no line %q. Reload the page and answer it there.", form.Get("step"))
	}
	body := map[string]any{"step": step.ID, "outcome": form.Get("outcome")}
	if form.Get("outcome") == commissioning.NotApplicable {
		if !step.Optional {
			return nil, problem.New(problem.Invalid, "This line must be answered; it is not optional.")
		}
		_, err := textField(form, "note", "Say why the line does not apply.")
		return body, err
	}
	var err error
	switch step.Ask {
	case commissioning.AskValue:
		err = addAmount(body, form, v, step.Quantity)
	case commissioning.AskText:
		body["text"], err = textField(form, "text", "Type what you read.")
	case commissioning.AskSample:
		body["text"], err = textField(form, "text", "Type the code as you read it off the pack.")
	case commissioning.AskChoice:
		body["choice"], err = textField(form, "choice", "Choose one of the answers.")
	}
	return body, err
}

// readingBody reads a value with its unit, or a state.
func readingBody(form url.Values, v templates.RunView) (map[string]any, error) {
	q, ok := v.Quantity(form.Get("quantity"))
	if !ok {
		return nil, problem.New(problem.Invalid, "This procedure does not read %q. Choose what is read, above the number.", form.Get("quantity"))
	}
	body := map[string]any{"quantity": q.Key}
	if q.State == nil {
		return body, addAmount(body, form, v, q.Key)
	}
	state, err := stateField(form)
	body["state"] = state
	return body, err
}

func stateField(form url.Values) (bool, error) {
	switch form.Get("state") {
	case "true":
		return true, nil
	case "false":
		return false, nil
	}
	return false, problem.On("state", "Choose yes or no, as the unit shows it.")
}

// addAmount reads value and unit and holds the unit against the quantity's kind.
func addAmount(body map[string]any, form url.Values, v templates.RunView, quantity string) error {
	value, err := decimalField(form, "value", "the value")
	if err != nil {
		return err
	}
	q, _ := v.Quantity(quantity)
	want, _ := measure.KindOf(q.Unit)
	if kind, known := measure.KindOf(form.Get("unit")); !known || kind != want {
		return problem.On("unit", "%s is not read in %s. Choose %s.", q.Label, nameless(form.Get("unit")), measure.Sign(q.Unit))
	}
	body["value"], body["unit"] = value, form.Get("unit")
	return nil
}

func nameless(unit string) string {
	if unit == "" {
		return "no unit"
	}
	return measure.Sign(unit)
}

func faultBody(form url.Values) (map[string]any, error) {
	kind, err := textField(form, "fault", "Choose the kind of fault.")
	if err == nil && kind == commissioning.FaultOther {
		_, err = textField(form, "note", "Say which fault it was, since it is another kind.")
	}
	return map[string]any{"fault": kind}, err
}

// loadBody reads the container's own label. The code is typed twice, or read
// off the tag by camera; one that the register knows is written as the register writes it.
func loadBody(form url.Values, codes []commissioning.Fluid) (map[string]any, error) {
	if form.Get("position") == "" {
		return nil, problem.On("position", "Choose where the container went.")
	}
	code, err := textField(form, "fluid", "Type the code that stands on the container.")
	if err != nil {
		return nil, err
	}
	if form.Get("via") != "scan" && !strings.EqualFold(code, form.Get("fluid_again")) {
		return nil, problem.On("fluid_again", "The two codes differ: “%s” and “%s”. Read the label again and type both.", code, form.Get("fluid_again"))
	}
	body := map[string]any{"position": form.Get("position"), "fluid": asRegistered(code, codes)}
	return withStep(body, form), addLabel(body, form)
}

func asRegistered(code string, codes []commissioning.Fluid) string {
	for _, f := range codes {
		if strings.EqualFold(f.Code, code) {
			return f.Code
		}
	}
	return code
}

// addLabel reads lot, date and level.
func addLabel(body map[string]any, form url.Values) error {
	lot, err := textField(form, "lot", "Type the lot as it is printed on the label.")
	if err != nil {
		return err
	}
	if _, err := time.Parse(time.DateOnly, form.Get("expires")); err != nil {
		return problem.On("expires", "Type the use-by date of the label as year-month-day, like 2027-03-31.")
	}
	level, err := decimalField(form, "level_percent", "the level in percent")
	if err != nil {
		return err
	}
	if d := measure.Must(level); d.Sign() < 0 || d.Cmp(measure.Whole(100)) > 0 {
		return problem.On("level_percent", "A level lies between 0 and 100 %%. Type it again.")
	}
	body["lot"], body["expires"], body["level_percent"] = lot, form.Get("expires"), level
	return nil
}

// correctionBody strikes an entry out; where asked it puts another in its
// place, with everything that was not typed anew taken over.
func correctionBody(form url.Values, v templates.RunView, codes []commissioning.Fluid) (map[string]any, error) {
	reason, err := textField(form, "reason", "Say why the entry is wrong.")
	body := map[string]any{"strikes": json.Number(form.Get("strikes")), "reason": reason}
	if err != nil || form.Get("replace") != "yes" {
		return body, err
	}
	old, ok := v.Standing(form.Get("strikes"))
	if !ok {
		return nil, problem.New(problem.Conflict, "There is no such entry to correct any more. Open the logbook and start from there.")
	}
	replacement, err := replacementBody(old, form, v, codes)
	body["replacement"] = replacement
	return body, err
}

func replacementBody(old commissioning.Entry, form url.Values, v templates.RunView, codes []commissioning.Fluid) (map[string]any, error) {
	with := url.Values{"step": {old.Step}, "outcome": {old.Outcome}, "quantity": {old.Quantity}, "position": {string(old.Position)}, "container": {old.Container}, "note": {old.Note}}
	for _, field := range kindFields[commissioning.KindCorrection] {
		with[field] = form[field]
	}
	with.Set("fluid_again", form.Get("fluid"))
	body, err := formBody(old.Kind, with, v, codes)
	if err != nil {
		return nil, err
	}
	body["kind"] = old.Kind
	body["observed_at"] = old.ObservedAt.UTC().Format(time.RFC3339Nano)
	if old.CapturedAt != nil {
		body["captured_at"] = old.CapturedAt.UTC().Format(time.RFC3339Nano)
	}
	if old.Note != "" {
		body["note"] = old.Note
	}
	return body, nil
}

// handOverBody is a note that hands the run over to somebody.
func handOverBody(form url.Values, v templates.RunView) (map[string]any, error) {
	i := slices.IndexFunc(v.Mates, func(p commissioning.Person) bool { return string(p.ID) == form.Get("to") })
	if i < 0 {
		return nil, problem.On("to", "Choose an engineer of this site who goes on with the run.")
	}
	text, err := textField(form, "text", "Say what they must know.")
	return map[string]any{"text": text, "note": commissioning.HandOverTo(v.Mates[i])}, err
}
