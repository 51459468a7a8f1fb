package certificate

import (
	"fmt"
	"slices"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
)

// mostPictures are printed; the hashes of the rest stand in the logbook.
const mostPictures = 4

// drained sums what went into a container in the run, emptied since or not.
func (c *composer) drained(container string) (volume string, drains int) {
	sum := measure.Whole(0)
	for _, e := range c.Exam.Live {
		if e.Kind != commissioning.KindDrain || e.Container != container {
			continue
		}
		if v, err := measure.Parse(e.VolumeML); err == nil {
			sum = sum.Plus(v)
		}
		drains++
	}
	return c.number(sum.Shown()), drains
}

func (c *composer) sampleStep() (rules.StepState, bool) {
	for _, st := range c.Exam.Steps {
		if st.Step.Ask == commissioning.AskSample && st.Answered && sampleText(st) != "" {
			return st, true
		}
	}
	return rules.StepState{}, false
}

// sampleText is the code as the engineer read it last.
func sampleText(st rules.StepState) string {
	for _, e := range slices.Backward(st.Answers) {
		if e.Kind == commissioning.KindStep && e.Text != "" {
			return e.Text
		}
	}
	return ""
}

func (c *composer) sample() *Sample {
	st, ok := c.sampleStep()
	if !ok {
		return nil
	}
	s := c.countersigned
	return &Sample{Engineer: sampleText(st), Supervisor: s.Reading, Agrees: s.Agrees, Reason: s.Mismatch}
}

// pictures are the photos that are printed, those of the sample first, and a
// sentence on the others.
func (c *composer) pictures() (printed []Picture, more string) {
	var all []Picture
	st, _ := c.sampleStep()
	for _, e := range c.Exam.Live {
		if e.Kind != commissioning.KindPhoto || !slices.ContainsFunc(c.Photos, func(p Photo) bool { return p.SHA256 == e.SHA256 }) {
			continue
		}
		if slices.ContainsFunc(all, func(p Picture) bool { return p.SHA256 == e.SHA256 }) {
			continue
		}
		p := Picture{SHA256: e.SHA256, Sample: e.Step != "" && e.Step == st.Step.ID}
		what := c.say("Photo")
		if p.Sample {
			what = c.say("Print sample")
		} else if e.Step != "" {
			what = c.cut(c.stepText(e.Step), 60)
		}
		p.Caption = fmt.Sprintf("%s, %s, %s", what, c.clock(e.ObservedAt), c.name(e.By))
		all = append(all, p)
	}
	slices.SortStableFunc(all, func(a, b Picture) int {
		switch {
		case a.Sample && !b.Sample:
			return -1
		case b.Sample && !a.Sample:
			return 1
		}
		return 0
	})
	if n := len(all) - mostPictures; n > 0 {
		return all[:mostPictures], c.many(n,
			"And %d photo more, named by hash in the attached %s.", "And %d photos more, named by hash in the attached %s.", LogbookName)
	}
	return append([]Picture{}, all...), ""
}
