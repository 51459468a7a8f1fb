package handlers

import (
	"context"
	"net/http"
	"net/url"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// ShowFluids lists inks and make-ups.
func (s *Screens) ShowFluids(w http.ResponseWriter, r *http.Request) error {
	return showRegister(s, w, r, s.fluids())
}

// SaveFluid adds or changes a fluid.
func (s *Screens) SaveFluid(w http.ResponseWriter, r *http.Request) error {
	return saveRegister(s, w, r, s.fluids())
}

func (s *Screens) fluids() register[commissioning.Fluid] {
	return register[commissioning.Fluid]{
		page: templates.RegisterView{
			Title: words.Say("Fluids"),
			Add:   words.Say("Add a fluid"), Change: words.Say("Change this fluid"), Save: words.Say("Save the fluid"), None: words.Say("No fluid yet."),
			URL: urls.FluidsPattern, Columns: []words.Text{words.Say("Code"), words.Say("Name"), words.Say("Goes in as"), words.Say("Base"), words.Say("Figures")},
			Lead: words.Say("Inks and make-ups by their codes. A unit takes only the two that it is built for. Figures of a data sheet feed estimates, never a gate."),
		},
		place: templates.Fluids, read: commissioning.ReadRegisters, manage: commissioning.ManageRegisters,
		fields: append([]string{"code", "name", "position", "base"}, figureFields()...),
		list: func(ctx context.Context, _ commissioning.Person) ([]commissioning.Fluid, error) {
			return s.DB.Fluids(ctx)
		},
		key: func(f commissioning.Fluid) string { return f.Code },
		cells: func(f commissioning.Fluid, _ []commissioning.Site) []words.Text {
			return append(plain(f.Code, f.Name), parts.PositionName(f.Position), words.Plain(f.Base), figuresKnown(f.Figures))
		},
		values: func(f commissioning.Fluid) url.Values {
			values := url.Values{"code": {f.Code}, "name": {f.Name}, "position": {string(f.Position)}, "base": {f.Base}}
			for key, figure := range f.Figures {
				values.Set(key, figure.Value)
				values.Set(sourceOf(key), figure.Source)
			}
			return values
		},
		decode: func(form url.Values, stored commissioning.Fluid) (commissioning.Fluid, error) {
			f := commissioning.Fluid{
				Code: stored.Code, Name: form.Get("name"), Base: form.Get("base"),
				Position: commissioning.Position(form.Get("position")), Figures: decodeFigures(form),
			}
			if f.Code == "" {
				f.Code = form.Get("code")
			}
			return f, nil
		},
		save: func(ctx context.Context, p commissioning.Person, v commissioning.Fluid) error {
			_, err := s.Acts.SaveFluid(ctx, p, v, s.Now())
			return err
		},
		inputs: fluidInputs,
	}
}

// fluidInputs leaves the code out of a change: records name it.
func fluidInputs(_ []commissioning.Site, changing bool) []parts.Input {
	var inputs []parts.Input
	if !changing {
		inputs = append(inputs, parts.Input{Name: "code", Label: words.Say("Code, as on the container"), Required: true, Mono: true, MaxLength: 24})
	}
	inputs = append(inputs,
		parts.Input{Name: "name", Label: words.Say("Name"), Required: true, MaxLength: 80},
		parts.Input{Name: "position", Label: words.Say("Goes in as"), Required: true, Options: []parts.Option{
			{Value: string(commissioning.Ink), Label: parts.PositionName(commissioning.Ink)},
			{Value: string(commissioning.MakeUp), Label: parts.PositionName(commissioning.MakeUp)},
		}},
		parts.Input{Name: "base", Label: words.Say("Base"), Hint: words.Say("For the caution, such as ketone or ethanol. The safety data sheet binds."), Required: true, MaxLength: 40},
	)
	return append(inputs, figureInputs()...)
}
