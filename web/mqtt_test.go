package web_test

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"

	"settlemark/internal/commissioning"
	"settlemark/internal/mqtt"
	"settlemark/internal/trust"
)

// brokerAt starts a real broker over TLS that lets one user in. Port 0 takes a free one.
func brokerAt(t *testing.T, port string, vouched *tls.Certificate) (*broker.Server, string) {
	t.Helper()
	b := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	users := &auth.Ledger{Auth: auth.AuthRules{{Username: "settlemark", Password: "a password for the broker", Allow: true}}}
	if err := b.AddHook(new(auth.Hook), &auth.Options{Ledger: users}); err != nil {
		t.Fatal(err)
	}
	l := listeners.NewTCP(listeners.Config{ID: "tls", Address: "127.0.0.1:" + port, TLSConfig: &tls.Config{Certificates: []tls.Certificate{*vouched}}})
	if err := b.AddListener(l); err != nil {
		t.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		t.Fatal(err)
	}
	address := l.Address()
	return b, address[strings.LastIndex(address, ":")+1:]
}

// TestMQTT sends readings through a real broker into the record.
func TestMQTT(t *testing.T) {
	g := newGateway(t, commissioning.ReportScope)
	dir := t.TempDir()
	authority, _, err := trust.OpenAuthority(filepath.Join(dir, "authority.pem"), []string{"127.0.0.1"}, time.Now())
	g.must(err)
	vouched, err := authority.Issue(time.Now())
	g.must(err)
	b, port := brokerAt(t, "0", vouched)
	t.Cleanup(func() { _ = b.Close() })
	g.must(os.WriteFile(filepath.Join(dir, "ca.pem"), authority.PEM(), 0o600))
	g.must(os.WriteFile(filepath.Join(dir, "password"), []byte("a password for the broker\n"), 0o600))
	file, err := json.Marshal(map[string]any{
		"broker": "mqtts://127.0.0.1:" + port, "client": "settlemark-test", "user": "settlemark",
		"password_file": filepath.Join(dir, "password"), "ca_file": filepath.Join(dir, "ca.pem"),
		"topics": []any{
			map[string]any{"topic": "plant/{tag}/{quantity}", "gateway": "L-0001", "row": map[string]string{
				"quantity": "{quantity}", "value": "/v", "unit": "mPa.s", "observed_at": "/at",
			}},
			map[string]any{"topic": "rows/{tag}", "gateway": "L-0001"},
		},
	})
	g.must(err)
	config, err := mqtt.Read(file)
	g.must(err)
	subscribe := func() (leave func()) {
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		s := &mqtt.Subscriber{Config: config, DB: g.db.DB, Acts: g.acts, Now: time.Now, Log: g.screens.Log, FirstPause: 20 * time.Millisecond}
		go func() { done <- s.Run(ctx) }()
		return func() { cancel(); g.must(<-done) }
	}
	from, sent := time.Now().Add(-time.Minute).UTC(), 0
	message := func(n int) string {
		return fmt.Sprintf(`{"at":%d,"v":4.5%d}`, from.Add(time.Duration(n)*time.Second).UnixMilli(), n)
	}
	sends := func() {
		t.Helper()
		g.must(b.Publish("plant/QU-01/viscosity", []byte(message(sent)), false, 1))
		sent++
	}
	waits := func(what string, when func() bool) {
		t.Helper()
		for range 400 {
			if when() {
				return
			}
			time.Sleep(25 * time.Millisecond)
		}
		t.Fatalf("%s: %s stored of %d sent; the log ends with %.1500s", what, g.stored(), sent, g.log.String()[max(0, g.log.Len()-1500):])
	}
	all := func() bool { return g.stored() == fmt.Sprint(sent) }
	subscribed := func(times int) func() bool {
		return func() bool { return strings.Count(g.log.String(), `"msg":"subscribed"`) == times }
	}

	leave := subscribe()
	waits("begun", subscribed(1))
	sends()
	waits("a message becomes a reading", all)
	if got := g.text("select convert_from(body, 'UTF8')::jsonb ->> 'value' from settlemark.entries where logger_id is not null"); got != "4.50" {
		t.Errorf("it is stored as %s", got)
	}
	t.Run("what comes twice is stored once", func(t *testing.T) {
		g.must(b.Publish("plant/QU-01/viscosity", []byte(message(0)), false, 1))
		sends()
		waits("the one after it", all)
	})
	t.Run("what can't be taken is named in the log and holds up nothing", func(t *testing.T) {
		for topic, payload := range map[string]string{
			"plant/QU-01/viscosity": `{"v":1}`, "plant/QU-01/mood": `{"at":1,"v":1}`, "plant/XX-99/viscosity": message(0), "rows/QU-01": `[{"quantity":"viscosity"}]`,
		} {
			g.must(b.Publish(topic, []byte(payload), false, 1))
		}
		sends()
		waits("the one after them", all)
		for _, said := range []string{"the message has nothing at /at", "gateway L-0001 does not report for unit XX-99", "observed_at", "mood"} {
			if !strings.Contains(g.log.String(), said) {
				t.Errorf("the log does not say %q", said)
			}
		}
	})
	t.Run("a message may be a list of rows", func(t *testing.T) {
		rows := fmt.Sprintf(`[{"quantity":"viscosity","value":"4.60","unit":"mPa.s","observed_at":%q},{"quantity":"viscosity","value":"4.61","unit":"mPa.s","observed_at":%q}]`,
			from.Add(30*time.Second).Format(time.RFC3339Nano), from.Add(31*time.Second).Format(time.RFC3339Nano))
		g.must(b.Publish("rows/QU-01", []byte(rows), false, 1))
		sent += 2
		waits("both", all)
	})
	t.Run("what was not stored when the program ended comes again", func(t *testing.T) {
		hold, err := pgx.Connect(t.Context(), g.db.AdminURL)
		g.must(err)
		defer hold.Close(context.Background())
		tx, err := hold.Begin(t.Context())
		g.must(err)
		_, err = tx.Exec(t.Context(), "select from settlemark.runs for update")
		g.must(err)
		sends()
		time.Sleep(200 * time.Millisecond) // it waits for the lock
		leave()
		sends() // while nobody is there
		g.must(tx.Rollback(t.Context()))
		if all() {
			t.Fatal("it was stored, so this shows nothing")
		}
		leave = subscribe()
		waits("both", all)
	})
	t.Run("a broker that goes away is found again", func(t *testing.T) {
		g.must(b.Close())
		b, _ = brokerAt(t, port, vouched)
		waits("back", subscribed(3))
		sends()
		waits("after it", all)
	})
	leave()
	if strings.Contains(g.log.String(), "a password for the broker") {
		t.Error("the log holds the password")
	}
}
