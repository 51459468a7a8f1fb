package db_test

import (
	"context"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
)

func TestSessionStore(t *testing.T) {
	d := dbtest.New(t)
	s := d.SessionStore()
	ctx := t.Context()
	must(t, s.CommitCtx(ctx, "token", []byte("one"), time.Now().Add(time.Hour)))
	must(t, s.CommitCtx(ctx, "token", []byte("two"), time.Now().Add(time.Hour)))
	must(t, s.CommitCtx(ctx, "over", []byte("three"), time.Now().Add(-time.Second)))
	for token, want := range map[string]string{"token": "two", "over": "", "unknown": ""} {
		data, found, err := s.FindCtx(ctx, token)
		if err != nil || string(data) != want || found != (want != "") {
			t.Errorf("%s: %q, %t, %v", token, data, found, err)
		}
	}
	t.Run("the table holds no token", func(t *testing.T) {
		conn := dbtest.Connect(t, d.AdminURL)
		defer conn.Close(context.Background())
		var n int
		must(t, conn.QueryRow(ctx, `select count(*) from sessions where token_hash = 'token' or length(token_hash) <> 32`).Scan(&n))
		if n != 0 {
			t.Error("a token is stored as it is")
		}
	})
	must(t, s.DeleteCtx(ctx, "token"))
	if _, found, err := s.FindCtx(ctx, "token"); found || err != nil {
		t.Errorf("after deletion: %t, %v", found, err)
	}
	t.Run("a request that was under way does not bring an ended session back", func(t *testing.T) {
		must(t, s.CommitCtx(ctx, "token", []byte("three"), time.Now().Add(time.Hour)))
		if data, found, err := s.FindCtx(ctx, "token"); found || err != nil {
			t.Errorf("%q, %t, %v", data, found, err)
		}
	})
}

func TestListen(t *testing.T) {
	d := dbtest.New(t)
	ctx, cancel := context.WithCancel(t.Context())
	runs, resets, ended := make(chan commissioning.RunID, 10), make(chan bool, 10), make(chan error)
	go func() {
		ended <- d.Listen(ctx, func(r commissioning.RunID) { runs <- r }, func() { resets <- true })
	}()
	await(t, resets, "the first reset")
	recorded(t, d)
	if r := await(t, runs, "a run that changed"); r != "01890000-0000-7000-8000-000000000001" {
		t.Errorf("got %s", r)
	}
	t.Run("a lost connection resets everybody", func(t *testing.T) {
		dbtest.Exec(t, d.AdminURL, `select pg_terminate_backend(pid) from pg_stat_activity where query like 'listen %' and datname = current_database()`)
		await(t, resets, "another reset")
	})
	cancel()
	<-ended
}

func await[T any](t *testing.T, c <-chan T, what string) T {
	t.Helper()
	select {
	case v := <-c:
		return v
	case <-time.After(10 * time.Second):
		t.Fatalf("%s did not come", what)
		panic("unreachable")
	}
}
