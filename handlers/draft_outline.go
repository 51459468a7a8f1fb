package handlers

import (
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// outline lists the parts of a draft as far as it can be read.
func outline(v templates.DraftView) templates.OutlineView {
	out := templates.OutlineView{DraftView: v}
	s, err := drafting.Open(v.Text)
	if err != nil {
		out.Broken = parts.Form{Err: err}.Problems()[0].Sentence
		return out
	}
	o := outliner{Sheet: s, wrong: map[string]bool{}}
	for _, r := range v.Refusals {
		o.wrong[pathOf(r.Path)] = true
	}
	out.Head = o.head()
	for i := range s.Len("sections") {
		out.Sections = append(out.Sections, o.section(i))
	}
	for i := range s.Len("quantities") {
		out.Quantities = append(out.Quantities, o.quantity(i))
	}
	out.Faults = o.item("faults", words.Say("Faults"), words.Say("expected: %s", strings.ReplaceAll(counted(s, "faults.expected"), "\n", ", ")))
	out.Gates = []templates.OutlineItem{
		o.item("gates.viscosity", words.Say("Viscosity gate"), words.Say("%s checks, %s apart at least", s.Value("gates.viscosity.checks"), s.Value("gates.viscosity.spacing_at_least"))),
		o.item("gates.hold", words.Say("Hold gate"), words.Say("%s for %s", strings.Join(s.Values("gates.hold.conditions"), ", "), s.Value("gates.hold.soak"))),
	}
	return out
}

// pathOf writes the loader's path as the sheet has it: sections.2.steps.0.
func pathOf(path string) string {
	return strings.NewReplacer("[", ".", "]", "", "$.", "", "$", "").Replace(path)
}

type outliner struct {
	*drafting.Sheet
	wrong map[string]bool // paths of what was refused
}

func (o outliner) item(at string, label, detail words.Text) templates.OutlineItem {
	i := templates.OutlineItem{At: at, Label: label, Detail: detail}
	for path := range o.wrong {
		i.Wrong = i.Wrong || path == at || strings.HasPrefix(path, at+".")
	}
	return i
}

func (o outliner) head() []templates.OutlineFact {
	return []templates.OutlineFact{
		{Label: words.Say("Title"), Value: words.Plain(o.Value("title"))},
		{Label: words.Say("Revision"), Value: words.Plain(o.Value("revision"))},
		{Label: words.Say("Typed later counts as late"), Value: words.Plain(o.Value("late_after"))},
		{Label: words.Say("Certificate stands for"), Value: orNone(o.Value("valid_for"), words.Say("no end"))},
		{Label: words.Say("It is void after"), Value: orNone(strings.Join(o.Values("voided_by"), "; "), words.Say("nothing is named"))},
	}
}

func orNone(text string, none words.Text) words.Text {
	if text == "" {
		return none
	}
	return words.Plain(text)
}

func (o outliner) section(i int) templates.OutlineSection {
	at := "sections." + itoa(i)
	var titles []words.Text
	for _, caution := range commissioning.Cautions(o.Values(at + ".cautions")) {
		titles = append(titles, caution.Title)
	}
	section := templates.OutlineSection{OutlineItem: o.item(at, orNone(o.Value(at+".title"), words.Say("no title")), words.Join(", ", titles...))}
	section.Index, section.Of = i, o.Len("sections")
	for j := range o.Len(at + ".steps") {
		step := at + ".steps." + itoa(j)
		item := o.item(step, orNone(o.Value(step+".text"), words.Say("no text")), o.asks(step))
		item.Index, item.Of = j, o.Len(at+".steps")
		section.Steps = append(section.Steps, item)
	}
	return section
}

// asks says how a line is answered, in the words of the form.
func (o outliner) asks(step string) words.Text {
	ask := words.Plain(o.Value(step + ".ask"))
	for _, option := range asks {
		if option.Value == o.Value(step+".ask") {
			ask = option.Label
		}
	}
	all := []words.Text{words.Plain(o.Value(step + ".id")), ask}
	if o.Value(step+".ask") == string(commissioning.AskGate) {
		all = append(all, commissioning.GateName(o.Value(step+".gate")))
	}
	if o.Value(step+".optional") == "true" {
		all = append(all, words.Say("may be left out"))
	}
	return words.Join(", ", all...)
}

func (o outliner) quantity(i int) templates.OutlineItem {
	at := "quantities." + itoa(i)
	detail := []words.Text{words.Plain(o.Value(at + ".key"))}
	if unit := o.Value(at + ".unit"); unit != "" {
		detail = append(detail, words.Plain(unit))
	}
	if target := o.Value(at + ".target.value"); target != "" {
		detail = append(detail, words.Say("target %s", words.Number(target)))
	}
	tolerance := func(of string) words.Number { return words.Number(o.Value(at + ".tolerance." + of)) }
	for _, of := range []struct {
		limit words.Number
		text  words.Text
	}{
		{tolerance("percent"), words.Say("± %s %%", tolerance("percent"))},
		{tolerance("absolute"), words.Say("± %s", tolerance("absolute"))},
		{tolerance("lower"), words.Say("from %s", tolerance("lower"))},
		{tolerance("upper"), words.Say("up to %s", tolerance("upper"))},
	} {
		if of.limit != "" {
			detail = append(detail, of.text)
		}
	}
	item := o.item(at, orNone(o.Value(at+".label"), words.Say("no label")), words.Join(", ", detail...))
	item.Index, item.Of = i, o.Len("quantities")
	return item
}
