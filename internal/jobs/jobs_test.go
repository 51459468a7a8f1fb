package jobs_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/jobs"
	"settlemark/internal/webhook"
)

// process works the queue of a database as one more program, until it is ended.
func process(t *testing.T, d *dbtest.Database) (end func()) {
	t.Helper()
	return processAt(t, d, jobs.Webhooks{}, nil, time.Now)
}

func processAt(t *testing.T, d *dbtest.Database, hooks jobs.Webhooks, letters *jobs.Mail, now func() time.Time) (end func()) {
	t.Helper()
	log := slog.New(slog.DiscardHandler)
	own, err := db.Open(t.Context(), d.AppURL, log)
	must(t, err)
	driver, done, err := own.JobDriver(t.Context())
	must(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	var work sync.WaitGroup
	work.Go(func() {
		acts := act.New(own, log, authtest.Secrets())
		acts.Mail = letters != nil
		for _, target := range hooks.Targets {
			acts.Webhooks = append(acts.Webhooks, act.Webhook{Name: target.Name, Events: target.Events})
		}
		if err := jobs.Run(ctx, driver, acts, hooks, letters, now, log); err != nil {
			t.Errorf("the queue: %v", err)
		}
	})
	end = sync.OnceFunc(func() {
		cancel()
		work.Wait()
		done()
		own.Close()
	})
	t.Cleanup(end)
	return end
}

func TestQueue(t *testing.T) {
	d := dbtest.Unsound(t) // files are taken away below
	acts := act.New(d.DB, slog.New(slog.DiscardHandler), authtest.Secrets())
	_, err := demo.Load(t.Context(), acts, d.DB, time.Now())
	must(t, err)
	dbtest.Exec(t, d.AdminURL, `delete from river.river_job`, `alter table settlemark.certificate_pdfs disable trigger all`)
	takeFiles := func() {
		t.Helper()
		dbtest.Exec(t, d.AdminURL, `delete from settlemark.certificate_pdfs`)
	}
	missing := func() int {
		t.Helper()
		numbers, err := d.WithoutPDF(t.Context())
		must(t, err)
		return len(numbers)
	}
	takeFiles()
	all := missing()
	if all < 2 {
		t.Fatalf("%d releases, so this shows nothing", all)
	}
	first := process(t, d)
	process(t, d)
	t.Run("files that are missing at the start are made", func(t *testing.T) {
		await(t, func() bool { return missing() == 0 })
	})
	t.Run("a job that a transaction leaves is done once, by whichever process", func(t *testing.T) {
		takeFiles()
		numbers, err := d.WithoutPDF(t.Context())
		must(t, err)
		must(t, d.InTx(t.Context(), func(tx *db.Tx) error { return tx.Enqueue(t.Context(), act.IssueJob{Number: numbers[0]}) }))
		await(t, func() bool { return missing() == all-1 })
		await(t, func() bool { return count(t, d, `kind = 'issue' and state = 'completed' and attempt = 1`) == 1 })
	})
	t.Run("one that its transaction takes back is not there", func(t *testing.T) {
		before := count(t, d, "kind = 'issue'")
		err := d.InTx(t.Context(), func(tx *db.Tx) error {
			must(t, tx.Enqueue(t.Context(), act.IssueJob{Number: "C-0001"}))
			return context.Canceled
		})
		if err == nil || count(t, d, "kind = 'issue'") != before {
			t.Errorf("%v, and there are %d jobs of %d", err, count(t, d, "kind = 'issue'"), before)
		}
	})
	t.Run("work goes on when one process ends and every connection is cut", func(t *testing.T) {
		first()
		numbers, err := d.WithoutPDF(t.Context())
		must(t, err)
		dbtest.Exec(t, d.AdminURL, `select pg_terminate_backend(pid) from pg_stat_activity where datname = current_database() and pid <> pg_backend_pid()`)
		must(t, d.InTx(t.Context(), func(tx *db.Tx) error { return tx.Enqueue(t.Context(), act.IssueJob{Number: numbers[0]}) }))
		await(t, func() bool { return count(t, d, `kind = 'issue' and state = 'completed'`) == 2 })
	})
}

func count(t *testing.T, d *dbtest.Database, where string) (n int) {
	t.Helper()
	conn := dbtest.Connect(t, d.AdminURL)
	defer conn.Close(context.Background())
	must(t, conn.QueryRow(t.Context(), "select count(*) from river.river_job where "+where).Scan(&n))
	return n
}

func await(t *testing.T, done func() bool) {
	t.Helper()
	for range 600 {
		if done() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("it did not happen within half a minute")
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// A submitted run waits for a signature: two processes look at it at once, and a
// receiver that fails at first is told of it once.
func TestTold(t *testing.T) {
	d := dbtest.New(t)
	acts := act.New(d.DB, slog.New(slog.DiscardHandler), authtest.Secrets())
	_, err := demo.Load(t.Context(), acts, d.DB, time.Now())
	must(t, err)
	conn := dbtest.Connect(t, d.AdminURL)
	defer conn.Close(context.Background())
	var run commissioning.RunID
	var submitted time.Time
	must(t, conn.QueryRow(t.Context(), `select id, submitted_at from settlemark.run_rows where state = 'submitted' limit 1`).Scan(&run, &submitted))
	_, err = conn.Exec(t.Context(), `delete from river.river_job`)
	must(t, err)

	const secret = "a secret of this receiver"
	heard := make(chan webhook.Message, 100)
	var calls atomic.Int32
	receiver := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		mac := hmac.New(sha256.New, []byte(secret))
		mac.Write([]byte(r.Header.Get("Settlemark-Timestamp") + "."))
		mac.Write(body)
		if r.Header.Get("Settlemark-Signature") != "v1="+hex.EncodeToString(mac.Sum(nil)) {
			t.Error("the signature is not right")
		}
		if calls.Add(1) == 1 {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		var m webhook.Message
		must(t, json.Unmarshal(body, &m))
		heard <- m
	}))
	defer receiver.Close()
	sender := webhook.New(nil, time.Now)
	sender.Refuse = func(netip.AddrPort) error { return nil } // the receiver is on this machine
	hooks := jobs.Webhooks{Sender: sender, Site: "https://site.example", Targets: []webhook.Target{{Name: "light", URL: receiver.URL, Secret: secret, Plain: true}}}
	soon := func() time.Time { return submitted.Add(4 * time.Second) }
	for range 2 {
		processAt(t, d, hooks, nil, soon)
	}
	must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
		for range 10 {
			if err := tx.Enqueue(t.Context(), act.LookJob{Run: run}); err != nil {
				return err
			}
		}
		return nil
	}))
	select {
	case m := <-heard:
		if m.Event != "waiting" || m.Run != string(run) || m.URL != "https://site.example/runs/"+string(run) || !m.At.Equal(submitted) {
			t.Errorf("it was told %+v", m)
		}
	case <-time.After(time.Minute):
		t.Fatal("nobody was told")
	}
	await(t, func() bool {
		return count(t, d, `state not in ('completed', 'discarded', 'cancelled') and kind in ('look', 'webhook')`) == 0
	})
	if n := count(t, d, `kind = 'webhook'`); n != 1 || len(heard) != 0 || calls.Load() != 2 {
		t.Errorf("%d deliveries, %d more messages, %d calls", n, len(heard), calls.Load())
	}
}
