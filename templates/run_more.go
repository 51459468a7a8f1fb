package templates

import (
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

func (v RunView) penWords() words.Text {
	if v.Writes() {
		return words.Say("Hand over this run to somebody else")
	}
	return words.Say("Take the pen of this run")
}

func (v RunView) containerOptions() []parts.Option {
	var out []parts.Option
	for _, c := range v.Exam.Containers {
		out = append(out, parts.Option{Value: c.Name, Label: words.Say("%s, %s mL", c.Name, words.Number(c.VolumeML))})
	}
	return out
}

func (v RunView) mateOptions() []parts.Option {
	var out []parts.Option
	for _, p := range v.Mates {
		out = append(out, parts.Option{Value: string(p.ID), Label: words.Plain(p.Name)})
	}
	return out
}
