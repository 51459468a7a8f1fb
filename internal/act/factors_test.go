package act_test

import (
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// app gives a person without second factors an authenticator app, and the
// recovery codes that come with the first one.
func (w *world) app(p commissioning.Person, now time.Time) (seed []byte, recovery []string) {
	w.t.Helper()
	seed, err := w.OfferApp(w.t.Context(), p, auth.NewSeed())
	must(w.t, err)
	recovery, err = w.AddApp(w.t.Context(), p, own(act.Proof{Password: password}), auth.CodeAt(seed, auth.Step(now)), now)
	must(w.t, err)
	return seed, recovery
}

// own is a form that changes the person's own proofs.
func own(p act.Proof) act.Signing { return act.Signing{Proof: p, Nonce: newID()} }

func coded(seed []byte, now time.Time) act.Proof {
	return act.Proof{Password: password, Code: auth.CodeAt(seed, auth.Step(now))}
}

// newcomer is somebody with a password and nothing else.
func (w *world) newcomer(login string, role commissioning.Role) commissioning.Person {
	w.t.Helper()
	p, err := w.person(w.t.Context(), "Newcomer "+login, login, role, w.site.ID)
	must(w.t, err)
	return p
}

func TestApp(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	ida := w.newcomer("ida", commissioning.Engineer)
	signIn := func(code string, now time.Time) error {
		_, err := w.SignIn(ctx, act.Claim{Login: "ida", Password: password, Code: code, Address: "192.0.2.3"}, now)
		return err
	}
	t.Run("without a second factor nobody signs", func(t *testing.T) {
		s := act.Signing{Head: make([]byte, 32), Proof: act.Proof{Password: password, Code: "123456"}, Nonce: newID()}
		err := w.Submit(ctx, ida, w.open("U-1").ID, s, evening)
		if refused(t, err, problem.Forbidden); !strings.Contains(err.Error(), "Add one under Account") {
			t.Errorf("got %v", err)
		}
	})
	t.Run("is not in use before its first code was right", func(t *testing.T) {
		seed, err := w.OfferApp(ctx, ida, auth.NewSeed())
		must(t, err)
		again, err := w.OfferApp(ctx, ida, auth.NewSeed())
		must(t, err)
		if !slices.Equal(seed, again) {
			t.Error("a page shown twice shows two seeds")
		}
		_, err = w.AddApp(ctx, ida, own(act.Proof{Password: password}), auth.CodeAt(seed, auth.Step(evening)+9), evening)
		refused(t, err, problem.Invalid)
		_, err = w.AddApp(ctx, ida, own(act.Proof{Password: "another password"}), auth.CodeAt(seed, auth.Step(evening)), evening)
		refused(t, err, problem.Invalid)
		must(t, signIn("", evening))
	})
	seed, recovery := w.app(ida, evening)
	if len(recovery) != 10 {
		t.Fatalf("%d recovery codes", len(recovery))
	}
	at := evening.Add(time.Minute)
	t.Run("from then on signing in asks for a code", func(t *testing.T) {
		refused(t, signIn("", at), problem.Invalid)
		refused(t, signIn("000000", at), problem.Invalid)
		must(t, signIn(auth.CodeAt(seed, auth.Step(at)), at))
	})
	t.Run("a code is good once, and no earlier one after it", func(t *testing.T) {
		refused(t, signIn(auth.CodeAt(seed, auth.Step(at)), at), problem.Invalid)
		refused(t, signIn(auth.CodeAt(seed, auth.Step(at)-1), at), problem.Invalid)
		must(t, signIn(auth.CodeAt(seed, auth.Step(at)+1), at))
		refused(t, signIn(auth.CodeAt(seed, auth.Step(at)), at), problem.Invalid)
	})
	t.Run("of forty at once with one code one is let in", func(t *testing.T) {
		at = at.Add(10 * time.Minute)
		var in atomic.Int32
		code, all := auth.CodeAt(seed, auth.Step(at)), []func(){}
		for range 40 {
			all = append(all, func() {
				_, err := w.NewRecovery(ctx, ida, own(act.Proof{Password: password, Code: code}), at)
				if err == nil {
					in.Add(1)
				}
			})
		}
		together(all...)
		if in.Load() != 1 {
			t.Errorf("%d were taken", in.Load())
		}
	})
	t.Run("a recovery code takes its place, once, and is void when new ones are made", func(t *testing.T) {
		at = at.Add(10 * time.Minute)
		refused(t, signIn(recovery[0], at), problem.Invalid) // new ones were made above
		fresh, err := w.NewRecovery(ctx, ida, own(coded(seed, at)), at)
		must(t, err)
		must(t, signIn(strings.ToLower(fresh[3]), at))
		refused(t, signIn(fresh[3], at), problem.Invalid)
		acts, err := w.db.Acts(ctx, w.admin, db.ActFilter{Act: "recovery code used", Subject: string(ida.ID)})
		must(t, err)
		if len(acts) != 1 {
			t.Errorf("%d acts tell of it", len(acts))
		}
	})
	t.Run("the last second factor stays", func(t *testing.T) {
		at = at.Add(10 * time.Minute)
		refused(t, w.RemoveApp(ctx, ida, own(coded(seed, at)), at), problem.Conflict)
	})
	t.Run("another app takes its place, with a code of the one before", func(t *testing.T) {
		at = at.Add(10 * time.Minute)
		next, err := w.OfferApp(ctx, ida, auth.NewSeed())
		must(t, err)
		first := auth.CodeAt(next, auth.Step(at))
		_, err = w.AddApp(ctx, ida, own(act.Proof{Password: password}), first, at)
		refused(t, err, problem.Invalid)
		_, err = w.AddApp(ctx, ida, own(coded(seed, at)), first, at)
		must(t, err)
		at = at.Add(time.Minute)
		refused(t, signIn(auth.CodeAt(seed, auth.Step(at)), at), problem.Invalid)
		must(t, signIn(auth.CodeAt(next, auth.Step(at)), at))
		seed = next
	})
	t.Run("one's password is changed with a proof", func(t *testing.T) {
		at = at.Add(10 * time.Minute)
		refused(t, w.ChangePassword(ctx, ida, own(act.Proof{Password: password}), "a lamp in the attic", at), problem.Invalid)
		refused(t, w.ChangePassword(ctx, ida, own(coded(seed, at)), "short", at), problem.Invalid)
		must(t, w.ChangePassword(ctx, ida, own(coded(seed, at)), "a lamp in the attic", at))
		at = at.Add(time.Minute)
		refused(t, signIn(auth.CodeAt(seed, auth.Step(at)), at), problem.Invalid)
	})
	t.Run("the database holds no seed in clear", func(t *testing.T) {
		conn, found := dbtest.Connect(t, w.db.AdminURL), 0
		defer conn.Close(ctx)
		must(t, conn.QueryRow(ctx, "select count(*) from code_seeds where position($1::bytea in coalesce(seed, '')) > 0", seed).Scan(&found))
		if found != 0 {
			t.Error("it stands there")
		}
	})
}

func TestPasskeys(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	challenge := []byte("drawn by chance")
	signIn := func(d *authtest.Device) error {
		_, err := w.SignInByPasskey(ctx, *d.Answers(challenge), challenge, "192.0.2.4", evening)
		return err
	}
	t.Run("lets its person in without a password", func(t *testing.T) {
		must(t, signIn(w.devices[w.engineer.ID]))
	})
	t.Run("not when its holder was not verified, nor from another site", func(t *testing.T) {
		d := *w.devices[w.engineer.ID]
		d.Holder.Options.UserNotVerified = true
		refused(t, signIn(&d), problem.Invalid)
		d = *w.devices[w.engineer.ID]
		d.Site.Origin = "https://settle.example.attacker.example"
		refused(t, signIn(&d), problem.Invalid)
	})
	t.Run("not for another challenge, nor one that is unknown", func(t *testing.T) {
		_, err := w.SignInByPasskey(ctx, *w.devices[w.engineer.ID].Answers([]byte("another")), challenge, "192.0.2.4", evening)
		refused(t, err, problem.Invalid)
		refused(t, signIn(authtest.New(rp, origin)), problem.Invalid)
	})
	t.Run("a passkey of one person can't be another's", func(t *testing.T) {
		s := w.signing(w.second, act.FactorsContent(w.second.ID))
		_, err := w.AddPasskey(ctx, w.second, s, "Mine", w.devices[w.engineer.ID].Makes(challenge), challenge, rp, evening)
		refused(t, err, problem.Conflict)
	})
	t.Run("a device whose count goes back was copied", func(t *testing.T) {
		d := *w.devices[w.second.ID]
		d.Counts(7)
		must(t, signIn(&d))
		refused(t, signIn(&d), problem.Invalid)
		d.Counts(6)
		refused(t, signIn(&d), problem.Invalid)
		d.Counts(8)
		must(t, signIn(&d))
	})
	t.Run("a disabled person's passkey is worth nothing", func(t *testing.T) {
		must(t, w.disable(w.admin, w.deputy.ID, evening))
		refused(t, signIn(w.devices[w.deputy.ID]), problem.Invalid)
	})
	t.Run("a signature is bound to what was shown", func(t *testing.T) {
		r := w.open("U-1")
		head := w.work(r.ID, "L24O").Run.Head
		s := w.signing(w.engineer, make([]byte, 32))
		s.Head = head
		refused(t, w.Submit(ctx, w.engineer, r.ID, s, at(45)), problem.Invalid)
		must(t, w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, head), at(45)))
	})
}

// What an administrator's one-time code leaves in force is asked for, so an
// administrator alone can't become somebody else.
func TestReplacement(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	at := evening
	invite := func(p commissioning.Person, resets string) string {
		code, err := w.invite(w.admin, p.ID, resets, at)
		must(t, err)
		return code
	}
	ida := w.newcomer("ida", commissioning.Engineer)
	seed, _ := w.app(ida, at)
	t.Run("needs a proof of the administrator", func(t *testing.T) {
		_, err := w.NewInvite(ctx, w.admin, ida.ID, act.ResetBoth, own(act.Proof{Password: password}), at)
		refused(t, err, problem.Invalid)
		_, err = w.NewInvite(ctx, w.admin, ida.ID, "all", w.signing(w.admin, act.InviteContent(ida.ID)), at)
		refused(t, err, problem.Invalid)
	})
	t.Run("for the password: the second factor stays and is asked for", func(t *testing.T) {
		at = at.Add(time.Minute)
		code := invite(ida, act.ResetPassword)
		v := act.Acceptance{Invite: code, Password: "plum in a bowl"}
		_, err := w.UseInvite(ctx, v, at)
		refused(t, err, problem.Invalid)
		v.Code = auth.CodeAt(seed, auth.Step(at))
		_, err = w.UseInvite(ctx, v, at)
		must(t, err)
		at = at.Add(time.Minute)
		_, err = w.SignIn(ctx, act.Claim{Login: "ida", Password: "plum in a bowl", Code: auth.CodeAt(seed, auth.Step(at))}, at)
		must(t, err)
	})
	t.Run("for the second factor: the password stays, is asked for, and the old factor is void", func(t *testing.T) {
		at = at.Add(time.Minute)
		code := invite(ida, act.ResetFactors)
		_, err := w.UseInvite(ctx, act.Acceptance{Invite: code, Password: "guess of the administrator"}, at)
		refused(t, err, problem.Invalid)
		_, err = w.UseInvite(ctx, act.Acceptance{Invite: code, Password: "plum in a bowl"}, at)
		must(t, err)
		f, err := w.db.Factors(ctx, ida.ID)
		must(t, err)
		if f.App || f.Recovery != 0 || len(f.Passkeys) != 0 {
			t.Errorf("left: %+v", f)
		}
	})
	t.Run("guesses at what a code leaves in force are slowed down", func(t *testing.T) {
		w.app2(t, ida, "plum in a bowl", at)
		code := invite(ida, act.ResetPassword)
		for n := range 6 {
			_, err := w.UseInvite(ctx, act.Acceptance{Invite: code, Password: "plum in a glass", Code: "000000"}, at)
			if want := map[bool]problem.Kind{true: problem.Invalid, false: problem.TooMany}[n < 5]; problem.KindOf(err) != want {
				t.Errorf("try %d: %v", n+1, err)
			}
		}
	})
	t.Run("each stands among the acts", func(t *testing.T) {
		acts, err := w.db.Acts(ctx, w.admin, db.ActFilter{Subject: string(ida.ID)})
		must(t, err)
		names := []string{}
		for _, a := range acts {
			names = append(names, a.Act)
		}
		slices.Reverse(names)
		want := "person added, authenticator app added, invite made, password set, invite made, password set, second factors void, authenticator app added, invite made"
		if got := strings.Join(names, ", "); got != want {
			t.Errorf("got %s", got)
		}
	})
}

// app2 is app for somebody with another password.
func (w *world) app2(t *testing.T, p commissioning.Person, password string, now time.Time) {
	t.Helper()
	seed, err := w.OfferApp(t.Context(), p, auth.NewSeed())
	must(t, err)
	_, err = w.AddApp(t.Context(), p, own(act.Proof{Password: password}), auth.CodeAt(seed, auth.Step(now)), now)
	must(t, err)
}

// Four eyes are two human beings, and nobody makes the second one up.
func TestSecondHuman(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.submitted("U-1")
	t.Run("whoever a contributor let in less than a day ago may not countersign", func(t *testing.T) {
		must(t, w.setRoles(w.admin, w.engineer.ID, append(slices.Clone(w.engineer.Grants), commissioning.Grant{Role: commissioning.Administrator}), at(46)))
		engineer, err := w.db.Person(ctx, w.engineer.ID)
		must(t, err)
		friend, _, err := w.adds(ctx, engineer, act.NewPerson{
			Name: "A Friend", Login: "friend", Grants: []commissioning.Grant{{Role: commissioning.Supervisor, Site: w.site.ID}},
		}, at(47))
		must(t, err)
		w.admits(friend)
		must(t, w.ReadSample(ctx, friend, r.ID, "L24O", at(48)))
		for _, now := range []time.Time{at(49), at(47).Add(24*time.Hour - time.Second)} {
			_, err = w.Countersign(ctx, friend, r.ID, w.signing(friend, r.Head), "", now)
			if refused(t, err, problem.Forbidden); !strings.Contains(err.Error(), "less than 24 hours ago") {
				t.Errorf("got %v", err)
			}
		}
	})
	t.Run("nor whoever was given new proofs by one", func(t *testing.T) {
		engineer, err := w.db.Person(ctx, w.engineer.ID)
		must(t, err)
		_, err = w.invite(engineer, w.supervisor.ID, act.ResetPassword, at(50))
		must(t, err)
		must(t, w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(51)))
		_, err = w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(52))
		refused(t, err, problem.Forbidden)
	})
	t.Run("nor somebody who turns out to be a contributor under another login", func(t *testing.T) {
		must(t, w.JoinPersons(ctx, w.admin, w.deputy.ID, w.engineer.ID, w.signing(w.admin, auth.Typed(act.JoinContent(w.deputy.ID), string(w.engineer.ID))), at(53)))
		refused(t, w.ReadSample(ctx, w.deputy, r.ID, "L24O", at(54)), problem.Forbidden)
		_, err := w.Countersign(ctx, w.deputy, r.ID, w.signing(w.deputy, r.Head), "", at(54))
		refused(t, err, problem.Forbidden)
	})
	t.Run("a day later the first of them may", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(50).Add(24*time.Hour))
		must(t, err)
	})
}

// admits gives somebody a password and a passkey.
func (w *world) admits(p commissioning.Person) {
	w.t.Helper()
	must(w.t, w.passwordOf(w.t.Context(), p))
	must(w.t, w.device(w.t.Context(), p))
}
