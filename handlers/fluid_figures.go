package handlers

import (
	"net/url"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// sourceOf is the field that says where a figure was read.
func sourceOf(key string) string { return key + "_source" }

func figureFields() []string {
	var fields []string
	for _, kind := range commissioning.FigureKinds {
		fields = append(fields, kind.Key, sourceOf(kind.Key))
	}
	return fields
}

func figureInputs() []parts.Input {
	var inputs []parts.Input
	for _, kind := range commissioning.FigureKinds {
		inputs = append(inputs,
			parts.Input{Name: kind.Key, Label: words.Say("%s, %s", kind.Label, kind.Unit), Mode: "decimal", MaxLength: 20},
			parts.Input{Name: sourceOf(kind.Key), Label: words.Say("%s: where it was read", kind.Label), Hint: words.Say("The data sheet with its date, or the table. No number goes without."), MaxLength: 200},
		)
	}
	return inputs
}

func decodeFigures(form url.Values) commissioning.Figures {
	figures := commissioning.Figures{}
	for _, kind := range commissioning.FigureKinds {
		figures[kind.Key] = commissioning.Figure{Value: form.Get(kind.Key), Source: form.Get(sourceOf(kind.Key))}
	}
	return figures
}

func figuresKnown(f commissioning.Figures) words.Text {
	if len(f) == 0 {
		return words.Say("none")
	}
	return words.Say("%d of %d", len(f), len(commissioning.FigureKinds))
}
