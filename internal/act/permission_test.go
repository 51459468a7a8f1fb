package act_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// crowd are the people of the permission table, each with another relation to
// the run, and some with two roles.
type crowd map[string]commissioning.Situation

// crowded is a run in a state, with everybody around it.
func crowded(t *testing.T, state commissioning.State) (*world, commissioning.Run, crowd) {
	t.Helper()
	w := newWorld(t)
	ctx := t.Context()
	both := func(name, login string) commissioning.Person {
		p, err := w.person(ctx, name, login, commissioning.Engineer, w.site.ID)
		must(t, err)
		must(t, w.device(ctx, p))
		must(t, w.setRoles(w.admin, p.ID, []commissioning.Grant{
			{Role: commissioning.Engineer, Site: w.site.ID}, {Role: commissioning.Supervisor, Site: w.site.ID},
		}, morning))
		p, err = w.db.Person(ctx, p.ID)
		must(t, err)
		return p
	}
	helper, ruler := both("Ona Vale", "ona"), both("Per Lund", "per")
	r := w.open("U-1")
	w.work(r.ID, "L 24 O")
	_, err := w.Record(ctx, author(helper), r.ID, []commissioning.Entry{remark("held the lamp", 44)}, evening)
	must(t, err)
	_, err = w.Rule(ctx, ruler, r.ID, w.run(r.ID).Head, ruling(44), at(44))
	must(t, err)
	if state == commissioning.Submitted || state == commissioning.Released {
		must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, w.run(r.ID).Head), at(45)))
	}
	switch state {
	case commissioning.Released:
		must(t, w.ReadSample(ctx, w.third, r.ID, "l24o", at(50)))
		_, err := w.Countersign(ctx, w.third, r.ID, w.signing(w.third, w.run(r.ID).Head), "", at(51))
		must(t, err)
	case commissioning.Abandoned:
		must(t, w.Abandon(ctx, w.engineer, r.ID, "the head is broken", at(46)))
	}
	run := w.run(r.ID)
	return w, run, crowd{
		"who opened it and holds the pen":  {Person: w.engineer, Run: run, TookPart: true},
		"an engineer without a part":       {Person: w.second, Run: run},
		"a supervisor without a part":      {Person: w.supervisor, Run: run},
		"a supervisor who recorded in it":  {Person: helper, Run: run, TookPart: true},
		"a supervisor who ruled, engineer": {Person: ruler, Run: run, Ruled: true},
		"quality":                          {Person: w.quality, Run: run},
		"an administrator":                 {Person: w.admin, Run: run},
		"a supervisor of another site":     {Person: w.stranger, Run: run},
		"somebody without any role":        {Person: commissioning.Person{ID: w.admin.ID}, Run: run},
	}
}

func ruling(minute int) commissioning.Entry {
	return entry(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: 1, Decision: commissioning.Accept, Reason: "seen"}, minute)
}

// tries does each action of the table as it must be done to succeed.
var tries = map[commissioning.Action]func(ctx context.Context, w *world, s commissioning.Situation) error{
	commissioning.ReadRuns: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_, err := w.db.Logbook(ctx, s.Person, s.Run.ID)
		return err
	},
	commissioning.AddEntries: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_, err := w.Record(ctx, author(s.Person), s.Run.ID, []commissioning.Entry{viscosity("4.60", 44)}, evening)
		return err
	},
	commissioning.ReportFault: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_, err := w.Record(ctx, author(s.Person), s.Run.ID, []commissioning.Entry{remark("dripping", 44)}, evening)
		return err
	},
	commissioning.TakePen: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_, err := w.TakePen(ctx, author(s.Person), s.Run.ID, newID(), "end of shift", at(46))
		return err
	},
	commissioning.AbandonRun: func(ctx context.Context, w *world, s commissioning.Situation) error {
		return w.Abandon(ctx, s.Person, s.Run.ID, "another reason", at(47))
	},
	commissioning.SubmitRun: func(ctx context.Context, w *world, s commissioning.Situation) error {
		return w.Submit(ctx, s.Person, s.Run.ID, w.signing(s.Person, s.Run.Head), at(47))
	},
	commissioning.RuleOnEntries: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_, err := w.Rule(ctx, s.Person, s.Run.ID, s.Run.Head, ruling(46), at(47))
		return err
	},
	commissioning.ReadSample: func(ctx context.Context, w *world, s commissioning.Situation) error {
		return w.ReadSample(ctx, s.Person, s.Run.ID, "L 24 O", at(47))
	},
	commissioning.ReturnRun: func(ctx context.Context, w *world, s commissioning.Situation) error {
		return w.Return(ctx, s.Person, s.Run.ID, s.Run.Head, "again, please", at(47))
	},
	commissioning.CountersignRun: func(ctx context.Context, w *world, s commissioning.Situation) error {
		_ = w.ReadSample(ctx, s.Person, s.Run.ID, "L 24 O", at(47)) // refused like the rest
		_, err := w.Countersign(ctx, s.Person, s.Run.ID, w.signing(s.Person, s.Run.Head), "", at(48))
		return err
	},
}

// Every action of the table, by everybody, in every state, through the acts and
// the database as they run: what is refused must be refused for the reason that
// the table gives, and change nothing.
func TestPermissionTable(t *testing.T) {
	allowed, refusedCount := 0, 0
	for action := range commissioning.RunRules() {
		if tries[action] == nil {
			t.Fatalf("the table has %q, which is not tried here", action)
		}
	}
	for _, state := range []commissioning.State{commissioning.Open, commissioning.Submitted, commissioning.Released, commissioning.Abandoned} {
		w, _, people := crowded(t, state)
		before := w.digest()
		for action, try := range tries {
			for who, s := range people {
				want := action.On(s)
				if action == commissioning.TakePen && s.Run.Pen == s.Person.ID {
					continue // taking what one holds does nothing
				}
				if want == nil {
					allowed++
					if action == commissioning.ReadRuns {
						must(t, try(t.Context(), w, s))
						continue
					}
					t.Run(fmt.Sprintf("%s may %s while it is %s", who, action, state), func(t *testing.T) {
						w, _, people := crowded(t, state)
						if err := try(t.Context(), w, people[who]); err != nil {
							t.Errorf("is refused: %v", err)
						}
					})
					continue
				}
				refusedCount++
				got := try(t.Context(), w, s)
				if problem.KindOf(got) != problem.KindOf(want) {
					t.Errorf("%s, %s while it is %s: %v, the table says: %v", who, action, state, got, want)
				}
			}
		}
		if after := w.digest(); after != before {
			t.Errorf("a refusal changed the record of the %s run: %s, then %s", state, before, after)
		}
	}
	fmt.Printf("figure: %d situations of a run allowed, %d refused, as the table says\n", allowed, refusedCount)
	if allowed < 30 || refusedCount < 200 {
		t.Errorf("only %d were allowed and %d refused", allowed, refusedCount)
	}
}

// digest is all evidence in one line.
func (w *world) digest() string {
	w.t.Helper()
	tables := []string{"entries", "signatures", "returns", "sample_readings", "releases", "contributors", "abandonments", "acts"}
	slices.Sort(tables)
	line := ""
	conn := dbtest.Connect(w.t, w.db.AdminURL)
	defer conn.Close(context.Background())
	for _, table := range tables {
		var n int
		must(w.t, conn.QueryRow(w.t.Context(), "select count(*) from "+table).Scan(&n))
		line += fmt.Sprintf("%s %d ", table, n)
	}
	var states string
	must(w.t, conn.QueryRow(w.t.Context(), "select string_agg(state || round || pen || seq, ' ' order by number) from runs").Scan(&states))
	return line + states
}
