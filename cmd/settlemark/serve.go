package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"

	"settlemark/db"
	"settlemark/handlers"
	"settlemark/internal/act"
	"settlemark/internal/demo"
	"settlemark/internal/jobs"
	"settlemark/internal/mqtt"
	"settlemark/internal/problem"
	"settlemark/internal/provider"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/web/live"
	"settlemark/web/respond"
	"settlemark/web/session"
)

const (
	startLimit    = 2 * time.Minute
	shutdownLimit = 10 * time.Second
	sealEvery     = 200 * time.Millisecond
	witnessEvery  = time.Second
)

// serve runs the whole app until the context ends.
func serve(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("serve", flag.ContinueOnError)
	flags.SetOutput(stderr)
	if flags.Parse(args) != nil || flags.NArg() > 0 {
		say(stderr, "settlemark: serve takes no arguments; the environment steers it, see docs/install.md")
		return 2
	}
	log := slog.New(slog.NewJSONHandler(stderr, nil))
	slog.SetDefault(log)
	err := serveUntilDone(ctx, log, stdout)
	if err == nil {
		return 0
	}
	var refusal *problem.Error
	if errors.As(err, &refusal) {
		say(stderr, "%s", refusal.Sentence)
	}
	log.Error("stopped", "error", err.Error())
	return 1
}

func serveUntilDone(ctx context.Context, log *slog.Logger, stdout io.Writer) error {
	c, err := readConfig(os.Getenv)
	if err != nil {
		return &problem.Error{Kind: problem.Invalid, Sentence: words.Say("Settlemark can't start: %v.", err)}
	}
	starting, cancel := context.WithTimeout(ctx, startLimit)
	defer cancel()
	store, err := openStore(starting, c, log)
	if err != nil {
		return err
	}
	defer store.close()
	weak, err := checkDurability(starting, c, store.db)
	if err != nil {
		return err
	}
	acts, err := openActs(starting, c, store.db, log)
	if err != nil {
		return err
	}
	opening, err := prepare(starting, c, store.db, acts)
	if err != nil {
		return err
	}
	guard, err := openGuard(c, log)
	if err != nil {
		return err
	}
	screens, hub := screens(store.db, acts, log, opening.demo)
	checks, err := newCheckers(acts.LogPolicy, log)
	if err != nil {
		return err
	}
	screens.Check = checks.check
	if mail := c.post(); mail != nil {
		screens.TryMail = mail.Try
	}
	screens.DemoSeed, screens.PublicURL, screens.Authority = opening.signIns.Seed, c.publicURL, guard.authority
	if c.provider.Issuer != "" {
		screens.Provider = provider.New(c.provider, nil)
	}
	screens.Data, screens.Weak = c.data, weak
	doors, err := openDoors(ctx, c, guard, screens, measured(c, store.db, hub))
	if err != nil {
		return err
	}
	opening.print(stdout, doors.address(), c, guard.authority)

	hooks := c.hooks(doors.address())
	screens.TryWebhook, screens.Receivers = hooks.Try, c.receivers()
	work := background(ctx, store.db, acts, hub, hooks, c.post(), log, opening.simulate)
	work.asked(c, store.db, acts, guard, log)
	err = answer(ctx, doors, store, log)
	work.stop()
	return err
}

// answer serves until the context ends, or something fails.
func answer(ctx context.Context, doors *doors, store *store, log *slog.Logger) (err error) {
	doors.serve()
	tell(daemon.SdNotifyReady, log)
	select {
	case err = <-doors.served:
	case <-ctx.Done():
	case <-store.gone():
		err = fmt.Errorf("the private postgres ended: %w", store.private.Err())
	}
	tell(daemon.SdNotifyStopping, log)
	ending, stop := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
	defer stop()
	return errors.Join(err, doors.shut(ending))
}

// tell says to systemd, where that started the program, how far it is.
func tell(state string, log *slog.Logger) {
	if _, err := daemon.SdNotify(false, state); err != nil {
		log.Warn("systemd was not told", "state", state, "error", err.Error())
	}
}

// openActs opens the door to the record with the keys that it needs.
func openActs(ctx context.Context, c config, d *db.DB, log *slog.Logger) (*act.Acts, error) {
	secrets, err := openSecrets(ctx, c.data, d)
	if err != nil {
		return nil, err
	}
	acts := act.New(d, log, secrets)
	if c.publicURL != "" {
		acts.VerifyURL = c.publicURL + urls.VerifyPattern
	}
	acts.Log = c.log
	for _, w := range c.webhooks {
		acts.Webhooks = append(acts.Webhooks, act.Webhook{Name: w.Name, Events: w.Events})
	}
	acts.Mail = c.mail != nil
	if err := acts.OpenLog(ctx, time.Now()); err != nil {
		log.Error("SEALING STOPPED", "error", err.Error()) // everything else goes on
	}
	acts.Signers, err = openSiteKeys(c, log, time.Now())
	return acts, err
}

// screens wires the pages to the record and to the live streams.
func screens(d *db.DB, acts *act.Acts, log *slog.Logger, demoData bool) (*handlers.Screens, *live.Hub) {
	s := &handlers.Screens{
		DB: d, Acts: acts, Sessions: session.New(d, respond.Error), Now: time.Now, Log: log, Demo: demoData,
	}
	s.Live = live.New(live.Renderers{Run: s.RunPieces, Board: s.BoardPieces, Hall: s.HallPieces}, time.Now, log)
	return s, s.Live
}

// background is what goes on beside the requests.
type backgroundWork struct {
	ctx    context.Context // ends with stop
	cancel context.CancelFunc
	all    sync.WaitGroup
}

func (b *backgroundWork) stop() {
	b.cancel()
	b.all.Wait()
}

func (b *backgroundWork) start(name string, log *slog.Logger, do func() error) {
	b.all.Go(func() {
		if err := do(); err != nil && b.ctx.Err() == nil {
			log.Error("background work ended", "work", name, "error", err.Error())
		}
	})
}

func background(ctx context.Context, d *db.DB, acts *act.Acts, hub *live.Hub, hooks jobs.Webhooks, mail *jobs.Mail, log *slog.Logger, simulate bool) *backgroundWork {
	ctx, cancel := context.WithCancel(ctx)
	b := &backgroundWork{ctx: ctx, cancel: cancel}
	start := func(name string, do func() error) { b.start(name, log, do) }
	start("listen", func() error { return d.Listen(ctx, hub.Mark, hub.MarkAll) })
	start("seal", func() error { jobs.Seal(ctx, acts, sealEvery, time.Now, log); return nil })
	start("witness", func() error { jobs.Witness(ctx, acts, witnessEvery, log); return nil })
	start("jobs", func() error { return workJobs(ctx, d, acts, hooks, mail, log) })
	start("watch the site key", func() error { watchSiteKey(ctx, acts.Signers[0], log); return nil })
	if simulate {
		start("simulate", func() error { return demo.Simulate(ctx, acts, d, time.Now) })
	}
	return b
}

// asked starts what goes on only where the operator asks for it.
func (b *backgroundWork) asked(c config, d *db.DB, acts *act.Acts, guard guard, log *slog.Logger) {
	if c.mqtt != nil {
		broker := &mqtt.Subscriber{Config: c.mqtt, DB: d, Acts: acts, Now: time.Now, Log: log, FirstPause: time.Second}
		b.start("mqtt", log, func() error { return broker.Run(b.ctx) })
	}
	if c.replicaURL != "" {
		b.start("replica", log, func() error { return d.ReadFrom(b.ctx, c.replicaURL, time.Now) })
	}
	if guard.config != nil {
		b.all.Go(func() { guard.watch(b.ctx, c.https.host, log) })
	}
}

// workJobs works the queue of jobs, which all processes share.
func workJobs(ctx context.Context, d *db.DB, acts *act.Acts, hooks jobs.Webhooks, mail *jobs.Mail, log *slog.Logger) error {
	driver, done, err := d.JobDriver(ctx)
	if err != nil {
		return err
	}
	defer done()
	return jobs.Run(ctx, driver, acts, hooks, mail, time.Now, log)
}
