package rules

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Format names the layout of an assessment.
const Format = "settlemark.assessment/1"

// Encode gives exactly the bytes that settlemark evaluate prints: the
// assessment on one line, with its newline.
func Encode(a Assessment) []byte { return line(a) }

// EncodeForecast is Encode with one more key, the forecast.
func EncodeForecast(a Assessment, f Forecast) []byte {
	return line(a.layout(&forecastJSON{
		f.State, f.Asymptote, f.TimeConstant, instant(f.Enters), instant(f.Earliest), instant(f.Latest), f.Used,
	}))
}

func line(v any) []byte {
	data, err := json.Marshal(v)
	if err != nil {
		panic("rules: " + err.Error()) // text and numbers only
	}
	return append(data, '\n')
}

// gateJSON has the keys of every gate in the order of the layout; those that
// do not apply to a gate stay nil and are left out.
type gateJSON struct {
	Gate    string  `json:"gate"`
	Verdict Verdict `json:"verdict"`

	Count          *int   `json:"count,omitempty"`
	Open           any    `json:"open,omitempty"`
	BeyondExpected *[]int `json:"beyond_expected,omitempty"`

	Value                  string   `json:"value,omitempty"`
	Target                 string   `json:"target,omitempty"`
	Lower                  string   `json:"lower,omitempty"`
	Upper                  string   `json:"upper,omitempty"`
	DeviationPercent       string   `json:"deviation_percent,omitempty"`
	Checks                 *int     `json:"checks,omitempty"`
	Required               *int     `json:"required,omitempty"`
	ConformanceProbability *float64 `json:"conformance_probability,omitempty"`

	HeldS        json.RawMessage `json:"held_s,omitempty"`
	RequiredS    json.RawMessage `json:"required_s,omitempty"`
	From         string          `json:"from,omitempty"`
	To           string          `json:"to,omitempty"`
	EarliestPass string          `json:"earliest_pass,omitempty"`
	Breaks       *[]breakJSON    `json:"breaks,omitempty"`

	Reasons []string `json:"reasons"`
	Codes   []string `json:"codes"`
}

type breakJSON struct {
	At        string `json:"at"`
	Cause     string `json:"cause"`
	Condition string `json:"condition,omitempty"`
	Text      string `json:"text"`
}

type decisionJSON struct {
	Ref  int    `json:"ref"`
	Gate string `json:"gate"`
	Code string `json:"code"`
	Text string `json:"text"`
}

type forecastJSON struct {
	State         string   `json:"state"`
	Asymptote     *float64 `json:"asymptote,omitempty"`
	TimeConstantS *float64 `json:"time_constant_s,omitempty"`
	Enters        string   `json:"enters_tolerance_at,omitempty"`
	Earliest      string   `json:"earliest,omitempty"`
	Latest        string   `json:"latest,omitempty"`
	ReadingsUsed  int      `json:"readings_used"`
}

// assessmentJSON is settlemark.assessment/1.
type assessmentJSON struct {
	Format    string         `json:"format"`
	Rules     int            `json:"rules"`
	At        string         `json:"at"`
	Verdict   Verdict        `json:"verdict"`
	Ignored   []int          `json:"ignored"`
	Gates     []gateJSON     `json:"gates"`
	Decisions []decisionJSON `json:"decisions_needed"`
	Forecast  *forecastJSON  `json:"forecast,omitempty"`
}

// MarshalJSON writes settlemark.assessment/1: gates in their order, instants in UTC.
func (a Assessment) MarshalJSON() ([]byte, error) { return json.Marshal(a.layout(nil)) }

func (a Assessment) layout(forecast *forecastJSON) assessmentJSON {
	decisions := make([]decisionJSON, len(a.DecisionsNeeded))
	for i, d := range a.DecisionsNeeded {
		decisions[i] = decisionJSON{d.Ref, d.Gate, d.Code, d.Text.String()}
	}
	ignored := append([]int{}, a.Ignored...)
	return assessmentJSON{Format, Version, instant(&a.At), a.Verdict, ignored, a.gates(), decisions, forecast}
}

func (a Assessment) gates() []gateJSON {
	steps := a.Steps.gate("steps")
	steps.Open = append([]string{}, a.Steps.Open...)

	faults := a.Faults.gate("faults")
	beyond := append([]int{}, a.Faults.BeyondExpected...)
	faults.Count, faults.Open, faults.BeyondExpected = &a.Faults.Count, append([]int{}, a.Faults.Open...), &beyond

	v := a.Viscosity.gate("viscosity")
	v.Value, v.Target, v.Lower, v.Upper = a.Viscosity.Value, a.Viscosity.Target, a.Viscosity.Lower, a.Viscosity.Upper
	v.DeviationPercent, v.ConformanceProbability = a.Viscosity.DeviationPercent, a.Viscosity.ConformanceProbability
	v.Checks, v.Required = &a.Viscosity.Checks, &a.Viscosity.Required

	h := a.Hold.gate("hold")
	h.HeldS, h.RequiredS = seconds(a.Hold.Held), seconds(a.Hold.Required)
	h.From, h.To, h.EarliestPass = instant(a.Hold.From), instant(a.Hold.To), instant(a.Hold.EarliestPass)
	breaks := make([]breakJSON, len(a.Hold.Breaks))
	for i, b := range a.Hold.Breaks {
		breaks[i] = breakJSON{instant(&b.At), b.Cause, b.Condition, b.Text.String()}
	}
	h.Breaks = &breaks

	return []gateJSON{steps, a.Fluids.gate("fluids"), faults, v, h}
}

func (f Finding) gate(name string) gateJSON {
	g := gateJSON{Gate: name, Verdict: f.Verdict, Reasons: []string{}, Codes: []string{}}
	for _, reason := range f.Reasons {
		g.Reasons = append(g.Reasons, reason.Text.String())
		g.Codes = append(g.Codes, reason.Code)
	}
	return g
}

func instant(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// seconds writes a duration exactly: 1260, or 1260.5.
func seconds(d time.Duration) json.RawMessage {
	text := fmt.Sprintf("%d.%09d", d/time.Second, d%time.Second)
	text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	return json.RawMessage(text)
}
