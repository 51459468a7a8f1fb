package handlers

import (
	"regexp"
	"strconv"

	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/measure"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

var (
	aQuantity = regexp.MustCompile(`^quantities\.\d+$`)
	aSection  = regexp.MustCompile(`^sections\.\d+$`)
	aStep     = regexp.MustCompile(`^sections\.\d+\.steps\.\d+$`)
)

func itoa(n int) string { return strconv.Itoa(n) }

// partAt is what the form shows at a path; false where it has nothing to show.
func partAt(s *drafting.Sheet, at string) (draftPart, bool) {
	if at != "" && !s.Has(at) {
		return draftPart{}, false
	}
	switch {
	case at == "":
		return headPart(), true
	case aQuantity.MatchString(at):
		return quantityPart(s, at), true
	case aSection.MatchString(at):
		return sectionPart(), true
	case aStep.MatchString(at):
		return stepPart(s, commissioning.Ask(s.Value(at+".ask"))), true
	case at == "faults":
		return faultsPart(), true
	case at == "gates.viscosity":
		return viscosityPart(s), true
	case at == "gates.hold":
		return holdPart(s), true
	}
	return draftPart{}, false
}

func phrase(name, label, hint string) draftField {
	return draftField{Input: parts.Input{Name: name, Label: words.Say(label), Hint: words.Say(hint), Required: true, MaxLength: 400}}
}

func span(name, label, hint string, required bool) draftField {
	return draftField{kind: figureField, Input: parts.Input{Name: name, Label: words.Say(label), Hint: words.Say(hint), Required: required, Mono: true, MaxLength: 20}}
}

func figure(name, label, hint string) draftField {
	return draftField{kind: figureField, Input: parts.Input{Name: name, Label: words.Say(label), Hint: words.Say(hint), Mode: "decimal", MaxLength: 20}}
}

func one(name, label string, required bool, options ...parts.Option) draftField {
	return draftField{Input: parts.Input{Name: name, Label: words.Say(label), Required: required, Options: options}}
}

func headPart() draftPart {
	return draftPart{words.Say("The whole"), []draftField{
		phrase("title", "Title", ""),
		span("late_after", "Typed later than this counts as late", "Hours, minutes, seconds: 10m, 1h30m", true),
		span("valid_for", "How long a certificate stands", "In hours: 4320h is 180 days", false),
		{kind: listField, Input: parts.Input{Name: "voided_by", Label: words.Say("What ends it before"), Hint: words.Say("One for each line, in words"), MaxLength: 4000}},
	}}
}

func sectionPart() draftPart {
	var all []parts.Option
	for _, key := range commissioning.CautionKeys() {
		all = append(all, parts.Option{Value: key, Label: commissioning.Cautions([]string{key})[0].Title})
	}
	return draftPart{words.Say("A section"), []draftField{
		phrase("title", "Title", ""),
		{kind: ticksField, Input: parts.Input{Name: "cautions", Label: words.Say("Cautions")}, ticks: all},
		{kind: flagField, Input: parts.Input{Name: "any_order", Label: words.Say("Order"), Hint: words.Say("Its lines may be answered in any order")}},
	}}
}

// asks are the ways to answer a line, in the words of the checklist.
var asks = []parts.Option{
	{Value: string(commissioning.AskConfirm), Label: words.Say("confirm by hand")},
	{Value: string(commissioning.AskValue), Label: words.Say("type a value within limits")},
	{Value: string(commissioning.AskText), Label: words.Say("type words")},
	{Value: string(commissioning.AskChoice), Label: words.Say("choose one of several")},
	{Value: string(commissioning.AskDrain), Label: words.Say("type what was drained into a container")},
	{Value: string(commissioning.AskLoad), Label: words.Say("load a container: code, lot, expiry, level")},
	{Value: string(commissioning.AskPhoto), Label: words.Say("take a photo")},
	{Value: string(commissioning.AskStart), Label: words.Say("start the jet")},
	{Value: string(commissioning.AskSample), Label: words.Say("read the print sample")},
	{Value: string(commissioning.AskGate), Label: words.Say("wait for a gate")},
}

// stepPart has the fields that every line has, and those of what it asks.
func stepPart(s *drafting.Sheet, ask commissioning.Ask) draftPart {
	id := phrase("id", "Id", "Stands in records; no other line has it")
	id.Mono = true
	return draftPart{words.Say("A line"), append([]draftField{
		phrase("text", "What the line says", "Connections to put back are lines too, one for each."),
		one("ask", "How it is answered", true, asks...),
		id,
		{kind: flagField, Input: parts.Input{Name: "optional", Label: words.Say("Leaving out"), Hint: words.Say("It may be answered with “does not apply”")}},
	}, askFields(s, ask)...)}
}

// askFields are the fields of one way to answer.
func askFields(s *drafting.Sheet, ask commissioning.Ask) []draftField {
	percent := func(name, label string, required bool) draftField {
		f := figure(name, label, "")
		f.Required = required
		return f
	}
	switch ask {
	case commissioning.AskValue:
		return []draftField{one("quantity", "Quantity", true, quantityOptions(s, false)...)}
	case commissioning.AskChoice:
		return []draftField{{kind: listField, Input: parts.Input{Name: "options", Label: words.Say("Options"), Hint: words.Say("One for each line"), Required: true, MaxLength: 4000}}}
	case commissioning.AskDrain:
		container := phrase("container", "Container", "The name of the waste container; lines with the same name share it")
		container.Mono = true
		return []draftField{container, percent("capacity_ml", "It holds, in mL", true), percent("fill_at_most_percent", "Filled at most, in %", true)}
	case commissioning.AskLoad:
		return []draftField{
			one("position", "Position", true, parts.Option{Value: "ink", Label: words.Say("Ink")}, parts.Option{Value: "makeup", Label: words.Say("Make-up")}),
			phrase("fluid", "Fluid", "ink or makeup for what the unit is built for, or a code"),
			percent("level_at_least_percent", "Level at least, in %", false),
		}
	case commissioning.AskGate:
		return []draftField{one("gate", "Gate", true,
			parts.Option{Value: commissioning.GateViscosity, Label: words.Say("Viscosity")}, parts.Option{Value: commissioning.GateHold, Label: words.Say("Hold")},
			parts.Option{Value: commissioning.GateFluids, Label: words.Say("Fluids")}, parts.Option{Value: commissioning.GateFaults, Label: words.Say("Faults")})}
	}
	return nil
}

func quantityPart(s *drafting.Sheet, at string) draftPart {
	key := phrase("key", "Key", "Stands in records; no other quantity has it")
	key.Mono = true
	fields := []draftField{phrase("label", "Label", ""), key}
	if s.Value(at+".state") != "" {
		state := one("state", "Must be", true, parts.Option{Value: "true", Label: words.Say("on")}, parts.Option{Value: "false", Label: words.Say("off")})
		state.kind = wholeField
		return draftPart{words.Say("A state"), append(fields, state, span("max_gap", "Silence at most", "Longer is no evidence: 7m", false))}
	}
	var units []parts.Option
	for _, kind := range []measure.Kind{measure.Viscosity, measure.Temperature, measure.Pressure, measure.Volume} {
		for _, unit := range measure.UnitsOf(kind) {
			units = append(units, parts.Option{Value: unit, Label: words.Plain(measure.Sign(unit))})
		}
	}
	fields = append(fields, one("unit", "Unit", true, units...),
		span("cadence", "The unit checks it every", "Such as 3m", false), span("max_gap", "Silence at most", "Longer is no evidence: 7m", false))
	if s.Len(at+".target.curve") == 0 {
		fields = append(fields, figure("target.value", "Target", ""))
	}
	return draftPart{words.Say("A quantity"), append(fields,
		figure("tolerance.percent", "Tolerance, in % of the target", "One kind of tolerance is enough"), figure("tolerance.absolute", "Tolerance, in the unit", ""),
		figure("tolerance.lower", "Lower limit", ""), figure("tolerance.upper", "Upper limit", ""),
		figure("uncertainty.percent", "Expanded uncertainty, in % of the value", ""), figure("uncertainty.absolute", "Expanded uncertainty, in the unit", ""),
		figure("uncertainty.k", "Coverage factor k", ""),
		one("decision", "Held against the limits", false, parts.Option{Value: commissioning.Simple, Label: words.Say("as it was read")}, parts.Option{Value: commissioning.Guarded, Label: words.Say("with a guard band")}),
		figure("guard_factor", "Guard factor", "Only with a guard band"))}
}

func faultsPart() draftPart {
	return draftPart{words.Say("Faults"), []draftField{
		{kind: countedField, Input: parts.Input{Name: "expected", Label: words.Say("Expected at the first start"), Hint: words.Say("One for each line: the kind, and how often it may happen"), MaxLength: 2000}},
		{kind: listField, Input: parts.Input{Name: "others", Label: words.Say("Others that can be reported"), Hint: words.Say("One for each line; each needs a decision"), MaxLength: 2000}},
	}}
}

func viscosityPart(s *drafting.Sheet) draftPart {
	return draftPart{words.Say("Viscosity gate"), []draftField{
		one("quantity", "Quantity", true, quantityOptions(s, false)...),
		{kind: wholeField, Input: parts.Input{Name: "checks", Label: words.Say("Checks in a row within tolerance"), Mode: "numeric", Required: true, MaxLength: 6}},
		span("spacing_at_least", "Apart at least", "Such as 2m", true),
	}}
}

func holdPart(s *drafting.Sheet) draftPart {
	return draftPart{words.Say("Hold gate"), []draftField{
		{kind: ticksField, Input: parts.Input{Name: "conditions", Label: words.Say("What must hold at once")}, ticks: quantityOptions(s, true)},
		span("soak", "Soak: without a break for", "Such as 60m", true),
		span("fresh_within", "Newest reading at most this old", "Such as 30m", true),
	}}
}

// quantityOptions are the quantities of the draft, with their states or without.
func quantityOptions(s *drafting.Sheet, states bool) []parts.Option {
	var all []parts.Option
	for i := range s.Len("quantities") {
		at := "quantities." + itoa(i)
		if key := s.Value(at + ".key"); key != "" && (states || s.Value(at+".state") == "") {
			all = append(all, parts.Option{Value: key, Label: words.Plain(s.Value(at + ".label"))})
		}
	}
	return all
}
