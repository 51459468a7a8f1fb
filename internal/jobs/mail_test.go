package jobs_test

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/jobs"
	"settlemark/internal/mail/mailtest"
)

// A submitted run waits for a signature. The supervisor who can give it gets an
// e-mail, in their language and once, though the server puts it off at first;
// whoever worked on the run gets none, and what is refused is given up.
func TestLetters(t *testing.T) {
	d := dbtest.New(t)
	acts := act.New(d.DB, slog.New(slog.DiscardHandler), authtest.Secrets())
	_, err := demo.Load(t.Context(), acts, d.DB, time.Now())
	must(t, err)
	conn := dbtest.Connect(t, d.AdminURL)
	defer conn.Close(context.Background())
	var run commissioning.RunID
	var unit string
	var submitted time.Time
	must(t, conn.QueryRow(t.Context(), `select id, unit, submitted_at from settlemark.run_rows where state = 'submitted' limit 1`).Scan(&run, &unit, &submitted))
	_, err = conn.Exec(t.Context(), `delete from river.river_job`)
	must(t, err)
	people, err := d.People(t.Context())
	must(t, err)
	by := map[string]commissioning.Person{}
	for _, p := range people {
		by[p.Login] = p
		if p.Login != "yusuf" {
			must(t, acts.WishMail(t.Context(), p, p.Login+"@plant.example", act.MailEvents))
		}
	}
	must(t, acts.ChooseReading(t.Context(), by["anwen"], "de", ""))

	desk := mailtest.Open(t, false, "451 later")
	soon := func() time.Time { return submitted.Add(4 * time.Second) }
	end := processAt(t, d, jobs.Webhooks{}, &jobs.Mail{Server: desk.Server(), Site: "https://site.example"}, soon)
	must(t, d.InTx(t.Context(), func(tx *db.Tx) error { return tx.Enqueue(t.Context(), act.LookJob{Run: run}) }))
	await(t, func() bool { return count(t, d, `kind = 'mail' and state = 'completed'`) == 1 })
	if n := count(t, d, `kind = 'mail'`); n != 1 || len(desk.Letters) != 1 {
		t.Fatalf("%d jobs, %d letters", n, len(desk.Letters))
	}
	letter := <-desk.Letters
	for _, want := range []string{"To: <anwen@plant.example>", unit, "Ein Lauf wartet auf die zweite Unterschrift", "https://site.example/runs/" + string(run)} {
		if !strings.Contains(letter, want) {
			t.Errorf("no %q in\n%s", want, letter)
		}
	}
	for _, p := range people {
		if strings.Contains(letter, p.Name) {
			t.Errorf("it names %s:\n%s", p.Name, letter)
		}
	}
	end()

	t.Run("what is refused is given up", func(t *testing.T) {
		desk := mailtest.Open(t, false, "550 nobody of that name", "550 nobody of that name")
		processAt(t, d, jobs.Webhooks{}, &jobs.Mail{Server: desk.Server()}, soon)
		notice := commissioning.Notice{ID: 7, Run: run, Unit: unit, Moment: commissioning.Moment{Event: commissioning.EventWaiting, At: submitted}}
		must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
			return tx.Enqueue(t.Context(), act.MailJob{Person: by["anwen"].ID, Notice: notice})
		}))
		await(t, func() bool { return count(t, d, `kind = 'mail' and state = 'cancelled'`) == 1 })
	})
	t.Run("each event concerns whoever works on the run or could countersign it", func(t *testing.T) {
		for _, e := range commissioning.Events {
			must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
				_, _, err := tx.AddNotice(t.Context(), run, commissioning.Moment{Event: e, Key: "whom " + string(e), At: submitted})
				return err
			}))
			told, err := d.RunNotices(t.Context(), run)
			must(t, err)
			var who []string
			for _, p := range people {
				if slices.Contains(told[0].People, p.ID) {
					who = append(who, p.Login)
				}
			}
			slices.Sort(who)
			want := map[commissioning.Event]string{"stopped": "anwen marit yusuf", "check": "marit", "ready": "marit", "waiting": "anwen yusuf"}[e]
			if got := strings.Join(who, " "); got != want || told[0].Event != e {
				t.Errorf("%s concerns %q, wants %q", e, got, want)
			}
		}
	})
	t.Run("whoever took the address away gets no more", func(t *testing.T) {
		must(t, acts.WishMail(t.Context(), by["anwen"], "", nil))
		to, _, err := acts.MailTo(t.Context(), act.MailJob{Person: by["anwen"].ID, Notice: commissioning.Notice{Moment: commissioning.Moment{Event: commissioning.EventWaiting}}})
		if to != "" || err != nil {
			t.Errorf("got %q, %v", to, err)
		}
	})
}
