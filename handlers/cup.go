package handlers

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowCup is the page on which a reading is checked with a flow cup.
func (s *Screens) ShowCup(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.CupPage(runFrame(r, v, words.Say("Check with a cup")), v))
}

// noteBody is a note as typed, or one that a flow cup gives.
func noteBody(form url.Values, v templates.RunView) (map[string]any, error) {
	if form.Has("to") {
		return handOverBody(form, v)
	}
	if !form.Has("cup") {
		text, err := textField(form, "text", "Type the note.")
		return map[string]any{"text": text}, err
	}
	text, err := cupNote(form)
	return map[string]any{"text": text}, err
}

// cupNote converts a time of flow and says how. The cup's refusal is the
// answer to a time that the cup cannot read.
func cupNote(form url.Values) (string, error) {
	cup, known := measure.CupOf(form.Get("cup"))
	if !known {
		return "", problem.On("cup", "Choose the cup.")
	}
	seconds, err := decimalField(form, "seconds", "the time of flow in seconds")
	if err != nil {
		return "", err
	}
	celsius, err := decimalField(form, "celsius", "the temperature of the sample in °C")
	if err != nil {
		return "", err
	}
	nu, err := cup.Kinematic(measure.Must(seconds).Float())
	if err != nil {
		return "", cupRefusal(cup, seconds, err)
	}
	text := fmt.Sprintf("Cup check. %s: %s s at %s °C, %s mm²/s", cup.Name, seconds, celsius, fourDigits(nu))
	dynamic, err := cupDynamic(form, nu)
	return text + dynamic + ". By the cup's formula, not corrected for temperature; decides nothing.", err
}

func cupDynamic(form url.Values, nu float64) (string, error) {
	if form.Get("density") == "" {
		return "; no density, so no mPa·s", nil
	}
	density, err := decimalField(form, "density", "the density")
	if err != nil {
		return "", err
	}
	eta, ok := measure.Dynamic(nu, measure.Must(density).Float())
	if least, most := measure.Must("0.3"), measure.Must("3"); !ok || measure.Must(density).Cmp(least) < 0 || most.Cmp(measure.Must(density)) < 0 {
		return "", problem.On("density", "In g/mL a density lies between %s and %s. Check the unit.", least, most)
	}
	return fmt.Sprintf(", with %s g/mL %s mPa·s", density, fourDigits(eta)), nil
}

func cupRefusal(cup measure.Cup, seconds string, err error) error {
	switch {
	case errors.Is(err, measure.ErrTooThin):
		return problem.On("seconds", "The fluid is too thin for this cup: %s s is below the %.0f s from which %s can be read. Nothing was converted. Take a finer cup, or none: for thin ink the unit's own reading stands.", seconds, cup.Least, cup.Name)
	case errors.Is(err, measure.ErrTooThick):
		return problem.On("seconds", "The fluid is too thick for this cup: %s s is above the %.0f s up to which %s can be read. Nothing was converted. Take a wider cup.", seconds, cup.Most, cup.Name)
	}
	return problem.On("seconds", "Type the time of flow in seconds, above zero.")
}

func fourDigits(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }
