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
		out.Broken = parts.Form{Err: err}.Problems()[0].Sentence.String()
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
	out.Faults = o.item("faults", "Faults", "expected: "+strings.ReplaceAll(counted(s, "faults.expected"), "\n", ", "))
	out.Gates = []templates.OutlineItem{
		o.item("gates.viscosity", "Viscosity gate", s.Value("gates.viscosity.checks")+" checks, "+s.Value("gates.viscosity.spacing_at_least")+" apart at least"),
		o.item("gates.hold", "Hold gate", strings.Join(s.Values("gates.hold.conditions"), ", ")+" for "+s.Value("gates.hold.soak")),
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

func (o outliner) item(at, label, detail string) templates.OutlineItem {
	i := templates.OutlineItem{At: at, Label: label, Detail: detail}
	for path := range o.wrong {
		i.Wrong = i.Wrong || path == at || strings.HasPrefix(path, at+".")
	}
	return i
}

func (o outliner) head() []templates.OutlineFact {
	return []templates.OutlineFact{
		{Label: words.Say("Title"), Value: o.Value("title")},
		{Label: words.Say("Revision"), Value: o.Value("revision")},
		{Label: words.Say("Typed later counts as late"), Value: o.Value("late_after")},
		{Label: words.Say("Certificate stands for"), Value: orNone(o.Value("valid_for"), "no end")},
		{Label: words.Say("It is void after"), Value: orNone(strings.Join(o.Values("voided_by"), "; "), "nothing is named")},
	}
}

func orNone(text, none string) string {
	if text == "" {
		return none
	}
	return text
}

func (o outliner) section(i int) templates.OutlineSection {
	at := "sections." + itoa(i)
	var titles []string
	for _, caution := range commissioning.Cautions(o.Values(at + ".cautions")) {
		titles = append(titles, caution.Title)
	}
	section := templates.OutlineSection{OutlineItem: o.item(at, orNone(o.Value(at+".title"), "no title"), strings.Join(titles, ", "))}
	section.Index, section.Of = i, o.Len("sections")
	for j := range o.Len(at + ".steps") {
		step := at + ".steps." + itoa(j)
		item := o.item(step, orNone(o.Value(step+".text"), "no text"), o.asks(step))
		item.Index, item.Of = j, o.Len(at+".steps")
		section.Steps = append(section.Steps, item)
	}
	return section
}

// asks says how a line is answered, in the words of the form.
func (o outliner) asks(step string) string {
	ask := o.Value(step + ".ask")
	for _, option := range asks {
		if option.Value == ask {
			ask = option.Label.String()
		}
	}
	all := []string{o.Value(step + ".id"), ask}
	if o.Value(step+".ask") == string(commissioning.AskGate) {
		all = append(all, o.Value(step+".gate"))
	}
	if o.Value(step+".optional") == "true" {
		all = append(all, "may be left out")
	}
	return strings.Join(all, ", ")
}

func (o outliner) quantity(i int) templates.OutlineItem {
	at := "quantities." + itoa(i)
	detail := []string{o.Value(at + ".key")}
	if unit := o.Value(at + ".unit"); unit != "" {
		detail = append(detail, unit)
	}
	if target := o.Value(at + ".target.value"); target != "" {
		detail = append(detail, "target "+target)
	}
	for _, of := range [][2]string{{"percent", "± %s %%"}, {"absolute", "± %s"}, {"lower", "from %s"}, {"upper", "to %s"}} {
		if value := o.Value(at + ".tolerance." + of[0]); value != "" {
			detail = append(detail, strings.NewReplacer("%s", value, "%%", "%").Replace(of[1]))
		}
	}
	item := o.item(at, orNone(o.Value(at+".label"), "no label"), strings.Join(detail, ", "))
	item.Index, item.Of = i, o.Len("quantities")
	return item
}
