package act_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestSignIn(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	at := evening
	people := map[string]commissioning.Person{} // with a password and nothing else
	for _, login := range []string{"ida", "ole", "una", "gil"} {
		p, err := w.person(ctx, "Ms "+login, login, commissioning.Engineer, w.site.ID)
		must(t, err)
		people[login] = p
	}
	claim := func(login, password, address string) error {
		_, err := w.SignIn(ctx, act.Claim{Login: login, Password: password, Address: address}, at)
		return err
	}
	wrong := func(login string) error { return claim(login, "no such password", "192.0.2.1") }
	t.Run("gives the person with its roles; case and spaces of the login do not matter", func(t *testing.T) {
		p, err := w.SignIn(ctx, act.Claim{Login: " IDA ", Password: password, Address: "192.0.2.1"}, at)
		must(t, err)
		if p.ID != people["ida"].ID || !p.Has(commissioning.Engineer, w.site.ID) {
			t.Errorf("got %+v", p)
		}
	})
	t.Run("an unknown login, a wrong password and a disabled person get one sentence", func(t *testing.T) {
		must(t, w.disable(w.admin, people["gil"].ID, evening))
		for _, err := range []error{wrong("nobody"), wrong("ole"), claim("gil", password, "192.0.2.1")} {
			refused(t, err, problem.Invalid)
			if err.Error() != wrong("nobody").Error() {
				t.Errorf("got %v", err)
			}
		}
	})
	t.Run("after five wrong passwords an account waits 1, 2, 4 … 60 s, never for ever", func(t *testing.T) {
		at = evening.Add(time.Hour)
		for n, wait := range []int{0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60} {
			refused(t, wrong("una"), problem.Invalid)
			if wait > 0 {
				at = at.Add(time.Duration(wait)*time.Second - time.Millisecond)
				refused(t, wrong("una"), problem.TooMany)
				refused(t, claim("una", password, "192.0.2.1"), problem.TooMany) // the right one has to wait as well
				at = at.Add(time.Millisecond)
			}
			at = at.Add(4 * time.Second * time.Duration(min(n, 1))) // keep clear of the limit of the address
			if wait > 0 {
				at = at.Add(2 * time.Minute)
			}
		}
		must(t, claim("una", password, "192.0.2.1"))
		refused(t, wrong("una"), problem.Invalid) // the count begins again
	})
	t.Run("an address may try 20 times a minute, and is told how long to wait", func(t *testing.T) {
		at = at.Add(time.Hour)
		for n := range 21 {
			err := claim(fmt.Sprintf("login%d", n), "x", "192.0.2.7")
			if want := map[bool]problem.Kind{true: problem.Invalid, false: problem.TooMany}[n < 20]; problem.KindOf(err) != want {
				t.Errorf("try %d: %v", n+1, err)
			}
			var refusal *problem.Error
			if n == 20 && (!errors.As(err, &refusal) || refusal.Seconds != 60) {
				t.Errorf("got %v, expected 60 s", err)
			}
		}
		must(t, claim("ida", password, "192.0.2.8")) // another address is free
		at = at.Add(time.Minute)
		must(t, claim("ida", password, "192.0.2.7"))
	})
	t.Run("those who are let in are not counted: a shift may sign in behind one address", func(t *testing.T) {
		at = at.Add(time.Hour)
		for range 45 {
			must(t, claim("ida", password, "192.0.2.9"))
		}
	})
	t.Run("makes a hash anew that costs less than it should or has no pepper", func(t *testing.T) {
		c, err := w.db.CredentialOf(ctx, people["ida"].ID)
		must(t, err)
		if !strings.Contains(c.Password, "m=19456,t=2,p=1,keyid=") {
			t.Errorf("got %s", c.Password)
		}
	})
}

// Five wrong proofs at signatures end the session, whatever comes after them.
func TestProof(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	head := w.work(r.ID, "L24O").Run.Head
	right := w.signing(w.engineer, head)
	wrong := right
	wrong.Proof = act.Proof{Password: password, Code: "000000"}
	for n := 1; n <= 5; n++ {
		err := w.Submit(ctx, w.engineer, r.ID, wrong, at(45))
		if over := errors.Is(err, act.ErrSessionOver); over != (n == 5) {
			t.Errorf("wrong proof %d: %v", n, err)
		}
	}
	t.Run("after five wrong ones not even the right one signs", func(t *testing.T) {
		err := w.Submit(ctx, w.engineer, r.ID, right, at(45))
		if refused(t, err, problem.Forbidden); !errors.Is(err, act.ErrSessionOver) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("it stands among the acts", func(t *testing.T) {
		acts, err := w.db.Acts(ctx, w.admin, db.ActFilter{Act: "five wrong proofs"})
		must(t, err)
		if len(acts) != 1 || acts[0].Subject != string(w.engineer.ID) {
			t.Errorf("got %+v", acts)
		}
	})
	t.Run("until the person has signed in again", func(t *testing.T) {
		challenge := []byte("of the sign-in page")
		p, err := w.SignInByPasskey(ctx, *w.devices[w.engineer.ID].Answers(challenge), challenge, "192.0.2.1", evening)
		must(t, err)
		if p.ID != w.engineer.ID {
			t.Errorf("got %+v", p)
		}
		must(t, w.Submit(ctx, w.engineer, r.ID, right, at(45)))
	})
	t.Run("a signature keeps what the passkey signed, and anybody can check it", func(t *testing.T) {
		book, err := w.db.Logbook(ctx, w.engineer, r.ID)
		must(t, err)
		s := book.Submission()
		if s.Method != "passkey" || s.Passkey == nil {
			t.Fatalf("got %+v", s)
		}
		must(t, auth.CheckAssertion(*s.Passkey, s.Head, s.Passkey.Nonce, rp))
		if auth.CheckAssertion(*s.Passkey, make([]byte, 32), s.Passkey.Nonce, rp) == nil {
			t.Error("it passes for another content")
		}
	})
}

func TestInvite(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	add := func(login string) string {
		_, invite, err := w.adds(ctx, w.admin, act.NewPerson{Name: "Jon Vale", Login: login}, evening)
		must(t, err)
		return invite
	}
	const good = "lantern under water"
	t.Run("sets a password, once", func(t *testing.T) {
		code := add("jon")
		typed := strings.ToLower(strings.ReplaceAll(code, "-", " "))
		_, err := w.UseInvite(ctx, act.Acceptance{Invite: typed, Password: good}, evening)
		must(t, err)
		_, err = w.SignIn(ctx, act.Claim{Login: "jon", Password: good, Address: "192.0.2.1"}, evening)
		must(t, err)
		_, err = w.UseInvite(ctx, act.Acceptance{Invite: code, Password: "another password"}, evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("is over after seven days", func(t *testing.T) {
		_, err := w.UseInvite(ctx, act.Acceptance{Invite: add("late"), Password: good}, evening.AddDate(0, 0, 7))
		refused(t, err, problem.Invalid)
	})
	t.Run("is void when a new one is made", func(t *testing.T) {
		old := add("lost")
		people, err := w.db.People(ctx)
		must(t, err)
		for _, p := range people {
			if p.Login == "lost" {
				_, err := w.invite(w.admin, p.ID, act.ResetBoth, evening)
				must(t, err)
			}
		}
		_, err = w.UseInvite(ctx, act.Acceptance{Invite: old, Password: good}, evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("keeps the code for a better password", func(t *testing.T) {
		code := add("fern.holt")
		for _, bad := range []string{"short", "password1234", strings.Repeat("x", 129), "fern.holt123", "aaaaaaaaaaaaaa"} {
			_, err := w.UseInvite(ctx, act.Acceptance{Invite: code, Password: bad}, evening)
			refused(t, err, problem.Invalid)
		}
		_, err := w.UseInvite(ctx, act.Acceptance{Invite: code, Password: good}, evening)
		must(t, err)
	})
	t.Run("no code, no password", func(t *testing.T) {
		for _, code := range []string{"", "AAAAA-AAAAA-AAAAA-AAAAA"} {
			_, err := w.UseInvite(ctx, act.Acceptance{Invite: code, Password: good}, evening)
			refused(t, err, problem.Invalid)
		}
	})
}

func TestPeople(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	t.Run("only administrators manage people", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.engineer, w.supervisor, w.quality} {
			_, _, err := w.adds(ctx, p, act.NewPerson{Name: "X", Login: "x"}, evening)
			refused(t, err, problem.Forbidden)
			refused(t, w.setRoles(p, p.ID, nil, evening), problem.Forbidden)
			refused(t, w.disable(p, w.admin.ID, evening), problem.Forbidden)
			_, err = w.invite(p, w.admin.ID, act.ResetBoth, evening)
			refused(t, err, problem.Forbidden)
		}
	})
	t.Run("a login is never given to another person", func(t *testing.T) {
		_, _, err := w.adds(ctx, w.admin, act.NewPerson{Name: "Mira Two", Login: "Mira"}, evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("the last administrator stays", func(t *testing.T) {
		refused(t, w.disable(w.admin, w.admin.ID, evening), problem.Conflict)
		refused(t, w.setRoles(w.admin, w.admin.ID, nil, evening), problem.Conflict)
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
