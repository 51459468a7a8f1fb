package demo

import (
	"context"
	"fmt"
	"strings"

	"settlemark/internal/commissioning"
)

// work answers the steps in their order, as far as the story goes.
func (t *telling) work(ctx context.Context) error {
	for _, section := range t.machine.procedure.Sections {
		for _, step := range section.Steps {
			if step.ID == t.story.upTo || !t.at.Before(t.until) {
				_, err := t.post(ctx)
				return err
			}
			if err := t.answer(ctx, step); err != nil {
				return fmt.Errorf("step %s: %w", step.ID, err)
			}
		}
		if t.first.IsZero() {
			continue // one post up to the first start
		}
		if _, err := t.post(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (t *telling) answer(ctx context.Context, step commissioning.Step) error {
	done := commissioning.Entry{Kind: commissioning.KindStep, Step: step.ID, Outcome: "done"}
	if step.Optional {
		t.pass(0.2)
		done.Outcome, done.Note = "not_applicable", "Third flush came back clear"
		t.write(done)
		return nil
	}
	switch step.Ask {
	case commissioning.AskConfirm:
		t.pass(0.35)
		t.write(done)
	case commissioning.AskText:
		t.pass(0.3)
		done.Text = t.text(step)
		t.write(done)
	case commissioning.AskChoice:
		t.pass(0.3)
		done.Choice = t.choice(step)
		t.write(done)
	case commissioning.AskDrain:
		t.drain(step)
	case commissioning.AskLoad:
		t.load(step)
	case commissioning.AskValue:
		return t.value(ctx, step)
	case commissioning.AskPhoto:
		return t.photo(ctx, step)
	case commissioning.AskSample:
		return t.sample(ctx, step)
	case commissioning.AskStart:
		return t.start(ctx, step)
	case commissioning.AskGate:
		if step.Gate == "hold" {
			return t.soak(ctx)
		}
	}
	return nil
}

func (t *telling) text(step commissioning.Step) string {
	if told, ok := t.story.answers[step.ID]; ok {
		return told
	}
	switch step.ID {
	case "serial":
		return t.unit.Serial
	case "supply":
		return "Site electrician, on the list of licensed people"
	case "earth-paper":
		return "E-" + t.at.Format("0601") + "-17"
	}
	return "W-" + t.at.Format("060102") + "-2"
}

func (t *telling) choice(step commissioning.Step) string {
	if told, ok := t.story.answers[step.ID]; ok {
		return told
	}
	return step.Options[0]
}

// drain empties the container first where it would not take the volume.
func (t *telling) drain(step commissioning.Step) {
	volume := 10 * float64(20+t.chance.IntN(13))
	if t.waste+volume > number(step.CapacityML)*number(step.FillAtMostPercent)/100 {
		t.pass(0.8)
		t.write(commissioning.Entry{Kind: commissioning.KindEmpty, Container: step.Container, Route: "Solvent waste store, drum 3"})
		t.waste = 0
	}
	t.pass(1.2)
	t.write(commissioning.Entry{
		Kind: commissioning.KindDrain, Step: step.ID, Container: step.Container, VolumeML: decimal(volume, 0),
	})
	t.waste += volume
}

func (t *telling) load(step commissioning.Step) {
	t.pass(0.6)
	fluid := map[string]string{"ink": t.unit.Ink, "makeup": t.unit.Makeup}[step.Fluid]
	lot := t.lot(fluid)
	least := int(number(step.LevelAtLeastPercent))
	t.write(commissioning.Entry{
		Kind: commissioning.KindLoad, Step: step.ID, Position: step.Position, Fluid: fluid, Lot: &lot,
		Expires:      t.at.AddDate(0, 10, 0).Format("2006-01-02"),
		LevelPercent: fmt.Sprint(least + 5 + t.chance.IntN(95-least)),
	})
}

// lot is the month's, but for the make-up that is recalled later: a delivery of
// its own.
func (t *telling) lot(fluid string) string {
	lot := strings.ReplaceAll(fluid, "-", "") + "-" + t.at.Format("0601")
	if t.story.recalled != "" && fluid == t.unit.Makeup {
		lot += "B"
	}
	return lot
}

// value is read off the unit; once it is typed wrong and corrected.
func (t *telling) value(ctx context.Context, step commissioning.Step) error {
	t.pass(0.4)
	answer := commissioning.Entry{Kind: commissioning.KindStep, Step: step.ID, Outcome: "done", ObservedAt: t.at}
	for _, e := range t.machine.observe(t.first, t.last, t.at) {
		if e.Quantity == step.Quantity {
			answer.Value, answer.Unit = e.Value, e.Unit
		}
	}
	m, slipped := t.mishap(slip, 0)
	if !slipped {
		t.write(answer)
		return nil
	}
	right := answer
	answer.Value = answer.Value[:len(answer.Value)-1]
	t.write(answer)
	seqs, err := t.post(ctx)
	if err != nil {
		return err
	}
	t.pass(0.3)
	t.write(commissioning.Entry{
		Kind: commissioning.KindCorrection, Strikes: seqs[len(seqs)-1], Reason: m.text, Replacement: &right,
	})
	return nil
}

func (t *telling) photo(ctx context.Context, step commissioning.Step) error {
	draw := ConnectionPhoto
	if step.ID == "crate-photo" {
		draw = CratePhoto
	}
	picture, err := draw(t.machine.seed)
	if err != nil {
		return err
	}
	t.pass(0.4)
	return t.attach(ctx, step, picture)
}

func (t *telling) sample(ctx context.Context, step commissioning.Step) error {
	picture, err := SamplePhoto(t.code(), t.machine.seed)
	if err != nil {
		return err
	}
	t.pass(0.8)
	if err := t.attach(ctx, step, picture); err != nil {
		return err
	}
	t.pass(0.2)
	t.write(commissioning.Entry{Kind: commissioning.KindStep, Step: step.ID, Outcome: "done", Text: t.code()})
	return nil
}

// code is what the line prints: its number and a best-before date.
func (t *telling) code() string {
	line := strings.Fields(t.unit.Line)[1]
	return "L" + line + " " + strings.ToUpper(t.run.OpenedAt.AddDate(0, 18, 0).Format("02Jan06"))
}

func (t *telling) attach(ctx context.Context, step commissioning.Step, picture []byte) error {
	stored, err := t.acts.StorePhoto(ctx, t.engineer, t.run.ID, picture, t.at)
	if err != nil {
		return err
	}
	t.write(commissioning.Entry{
		Kind: commissioning.KindPhoto, Step: step.ID, SHA256: stored.SHA256, MediaType: stored.MediaType,
	})
	return nil
}
