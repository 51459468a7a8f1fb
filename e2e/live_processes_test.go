package e2e_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// second starts another process over the database and the keys of a.
func second(t *testing.T, a *app) *app {
	t.Helper()
	b, err := launch(a.data, "127.0.0.1:0", "SETTLEMARK_DEMO=0",
		"DATABASE_URL=postgres://settlemark_app@/settlemark?host="+filepath.Join(a.data, "run"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.stop(); err != nil {
			t.Errorf("the second process did not end cleanly: %v", err)
		}
		if loud := b.loud(); loud != "" {
			t.Errorf("the second process logged:\n%s", loud)
		}
	})
	b.password, b.apps = a.password, a.apps
	return b
}

// sql asks the database of the app as its superuser.
func (a *app) sql(t *testing.T, statement string) string {
	t.Helper()
	out := run(t, tool(t, "psql", "postgresql-client"), "-X", "-A", "-t", "-h", filepath.Join(a.data, "run"), "-U", "postgres", "-d", "settlemark", "-c", statement)
	return strings.TrimSpace(string(out))
}

const listeners = ` from pg_stat_activity where query ilike 'listen %settlemark_runs%'`

// TestLiveAcrossProcesses: what one process records shows on the screens of
// another, also when that had lost its ear for a moment.
func TestLiveAcrossProcesses(t *testing.T) {
	t.Parallel()
	a := demoApp(t)
	b := second(t, a)
	engineer := takeTablet(t, a, true)
	engineer.signIn("marit", a.password)
	run := engineer.startsRun("BH-07", "Demo: return to service")
	watcher, board, review := takeTablet(t, b, true), takeTablet(t, b, true), takeTablet(t, b, true)
	for screen, path := range map[*tab]string{watcher: "/runs/" + run, board: "/board", review: "/runs/" + run + "/review"} {
		screen.signIn("anwen", a.password)
		screen.open(path)
		screen.ask("hears the stream", "live")
	}
	watcher.doesNotSee("1 of 2 lines")
	review.doesNotSee("The record has changed")
	stopped := board.counts("stopped")

	engineer.taps("Done as written")
	t.Run("a screen of the other process follows", func(t *testing.T) {
		watcher.soonSees("1 of 2 lines", "Live, last change")
		review.soonSees("The record has changed since this page was opened")
	})
	t.Run("and catches up with what came while it did not hear", func(t *testing.T) {
		before := a.sql(t, "select string_agg(pid::text, ' ' order by pid)"+listeners)
		if len(strings.Fields(before)) != 2 {
			t.Fatalf("two processes listen by %q", before)
		}
		a.sql(t, "select count(pg_terminate_backend(pid))"+listeners)
		engineer.open("/runs/" + run + "/fault")
		engineer.touches("Gutter")
		engineer.taps("Save the fault")
		watcher.soonSees("Gutter fault")
		board.soonSees(fmt.Sprintf("%d stopped", stopped+1))
		if after := a.sql(t, "select string_agg(pid::text, ' ' order by pid)"+listeners); after == before {
			t.Errorf("still the listeners %s", after)
		}
	})
	t.Run("and says since when it is not live", func(t *testing.T) {
		hangs(t, b, watcher, board)
	})
}

// hangs stops a process without ending its connections, as a machine that
// hangs does, until its screens say that they show the past.
func hangs(t *testing.T, a *app, screens ...*tab) {
	t.Helper()
	if err := a.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	goOn := func() { _ = a.cmd.Process.Signal(syscall.SIGCONT) }
	defer goOn()
	for _, screen := range screens {
		screen.doesNotSee("Not live")
	}
	for _, screen := range screens {
		if _, err := screen.tries(time.Minute, "notLive"); err != nil {
			t.Errorf("%s never says that it is not live: %s", screen.path(), screen.text())
		}
		screen.sees("Not live since ")
	}
	goOn()
	for _, screen := range screens {
		if _, err := screen.tries(time.Minute, "live"); err != nil {
			t.Errorf("%s is not live again: %s", screen.path(), screen.text())
		}
	}
}
