package act_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestSignIn(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	at := evening
	wrong := func(login string) error {
		_, err := w.SignIn(ctx, login, "no such password", "192.0.2.1", at)
		return err
	}
	t.Run("gives the person with its roles; case and spaces of the login do not matter", func(t *testing.T) {
		p, err := w.SignIn(ctx, " MIRA ", password, "192.0.2.1", at)
		must(t, err)
		if p.ID != w.engineer.ID || !p.Has(commissioning.Engineer, w.site.ID) {
			t.Errorf("got %+v", p)
		}
	})
	t.Run("an unknown login, a wrong password and a disabled person get one sentence", func(t *testing.T) {
		must(t, w.DisablePerson(ctx, w.admin, w.deputy.ID, evening))
		_, disabled := w.SignIn(ctx, "lena", password, "192.0.2.1", at)
		for _, err := range []error{wrong("nobody"), wrong("piet"), disabled} {
			refused(t, err, problem.Invalid)
			if err.Error() != wrong("nobody").Error() {
				t.Errorf("got %v", err)
			}
		}
	})
	t.Run("after five wrong passwords an account waits 1, 2, 4 … 60 s, never for ever", func(t *testing.T) {
		at = evening.Add(time.Hour)
		for n, wait := range []int{0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60} {
			refused(t, wrong("tomas"), problem.Invalid)
			if wait > 0 {
				at = at.Add(time.Duration(wait)*time.Second - time.Millisecond)
				refused(t, wrong("tomas"), problem.Busy)
				_, err := w.SignIn(ctx, "tomas", password, "192.0.2.1", at) // the right one has to wait as well
				refused(t, err, problem.Busy)
				at = at.Add(time.Millisecond)
			}
			at = at.Add(4 * time.Second * time.Duration(min(n, 1))) // keep clear of the limit of the address
			if wait > 0 {
				at = at.Add(2 * time.Minute)
			}
		}
		_, err := w.SignIn(ctx, "tomas", password, "192.0.2.1", at)
		must(t, err)
		refused(t, wrong("tomas"), problem.Invalid) // the count begins again
	})
	t.Run("an address may try 20 times a minute", func(t *testing.T) {
		at = at.Add(time.Hour)
		for n := range 21 {
			_, err := w.SignIn(ctx, fmt.Sprintf("login%d", n), "x", "192.0.2.7", at)
			if want := map[bool]problem.Kind{true: problem.Invalid, false: problem.Busy}[n < 20]; problem.KindOf(err) != want {
				t.Errorf("try %d: %v", n+1, err)
			}
		}
		_, err := w.SignIn(ctx, "mira", password, "192.0.2.8", at)
		must(t, err) // another address is free
		_, err = w.SignIn(ctx, "mira", password, "192.0.2.7", at.Add(time.Minute))
		must(t, err)
	})
}

func TestProof(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	head := w.work(r.ID, "L24O").Run.Head
	s := signing(head)
	s.Password = "not my password"
	for n := 1; n <= 5; n++ {
		err := w.Submit(ctx, w.engineer, r.ID, s, at(45))
		if over := errors.Is(err, act.ErrSessionOver); over != (n == 5) {
			t.Errorf("wrong proof %d: %v", n, err)
		}
	}
	s.Password = password
	t.Run("after five wrong ones not even the right one signs", func(t *testing.T) {
		err := w.Submit(ctx, w.engineer, r.ID, s, at(45))
		if refused(t, err, problem.Forbidden); !errors.Is(err, act.ErrSessionOver) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("until the person has signed in again", func(t *testing.T) {
		_, err := w.SignIn(ctx, "mira", password, "192.0.2.1", evening)
		must(t, err)
		must(t, w.Submit(ctx, w.engineer, r.ID, s, at(45)))
	})
}

func TestInvite(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	add := func(login string) string {
		_, invite, err := w.AddPerson(ctx, w.admin, act.NewPerson{Name: "Jon Vale", Login: login}, evening)
		must(t, err)
		return invite
	}
	const good = "lantern under water"
	t.Run("sets a password, once", func(t *testing.T) {
		code := add("jon")
		typed := strings.ToLower(strings.ReplaceAll(code, "-", " "))
		_, err := w.UseInvite(ctx, typed, good, evening)
		must(t, err)
		_, err = w.SignIn(ctx, "jon", good, "192.0.2.1", evening)
		must(t, err)
		_, err = w.UseInvite(ctx, code, "another password", evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("is over after seven days", func(t *testing.T) {
		_, err := w.UseInvite(ctx, add("late"), good, evening.AddDate(0, 0, 7))
		refused(t, err, problem.Invalid)
	})
	t.Run("is void when a new one is made", func(t *testing.T) {
		old := add("lost")
		people, err := w.db.People(ctx)
		must(t, err)
		for _, p := range people {
			if p.Login == "lost" {
				_, err := w.NewInvite(ctx, w.admin, p.ID, evening)
				must(t, err)
			}
		}
		_, err = w.UseInvite(ctx, old, good, evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("keeps the code for a better password", func(t *testing.T) {
		code := add("fern.holt")
		for _, bad := range []string{"short", "password1234", strings.Repeat("x", 129), "fern.holt123", "aaaaaaaaaaaaaa"} {
			_, err := w.UseInvite(ctx, code, bad, evening)
			refused(t, err, problem.Invalid)
		}
		_, err := w.UseInvite(ctx, code, good, evening)
		must(t, err)
	})
	t.Run("no code, no password", func(t *testing.T) {
		for _, code := range []string{"", "AAAAA-AAAAA-AAAAA-AAAAA"} {
			_, err := w.UseInvite(ctx, code, good, evening)
			refused(t, err, problem.Invalid)
		}
	})
}

func TestPeople(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	t.Run("only administrators manage people", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.engineer, w.supervisor, w.quality} {
			_, _, err := w.AddPerson(ctx, p, act.NewPerson{Name: "X", Login: "x"}, evening)
			refused(t, err, problem.Forbidden)
			refused(t, w.SetGrants(ctx, p, p.ID, nil, evening), problem.Forbidden)
			refused(t, w.DisablePerson(ctx, p, w.admin.ID, evening), problem.Forbidden)
			_, err = w.NewInvite(ctx, p, w.admin.ID, evening)
			refused(t, err, problem.Forbidden)
		}
	})
	t.Run("a login is never given to another person", func(t *testing.T) {
		_, _, err := w.AddPerson(ctx, w.admin, act.NewPerson{Name: "Mira Two", Login: "Mira"}, evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("the last administrator stays", func(t *testing.T) {
		refused(t, w.DisablePerson(ctx, w.admin, w.admin.ID, evening), problem.Conflict)
		refused(t, w.SetGrants(ctx, w.admin, w.admin.ID, nil, evening), problem.Conflict)
	})
	t.Run("setting up again is refused", func(t *testing.T) {
		code, needed, err := w.SetupCode(ctx, evening)
		must(t, err)
		if needed || code != "" {
			t.Error("a code was made although somebody exists")
		}
		_, err = w.Setup(ctx, "AAAAA-AAAAA-AAAAA-AAAAA", "Eve", "eve", "lantern under water", evening)
		refused(t, err, problem.Invalid)
	})
}
