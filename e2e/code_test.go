package e2e_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// forgetful keeps the database from noting which code was used: tests sign more
// often than codes change, and two of them at once for one person.
const forgetful = `
create or replace function settlemark.forget_code() returns trigger language plpgsql as
$$ begin new.last_step := 0; return new; end $$;
create or replace trigger forget_code before insert or update on settlemark.code_seeds
for each row execute function settlemark.forget_code();
update settlemark.code_seeds set last_step = 0`

// code is what the person's authenticator app shows now (RFC 6238).
func (a *app) code(t *testing.T, login string) string {
	t.Helper()
	key := a.apps[login]
	if key == "" {
		key = a.apps[""] // the demo's, everybody's
	}
	if key == "" {
		return ""
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, a.owner)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	a.forgets.Do(func() { _, err = conn.Exec(ctx, forgetful) })
	if err != nil {
		t.Fatal(err)
	}
	return codeOf(t, key, time.Now())
}

func codeOf(t *testing.T, key string, at time.Time) string {
	t.Helper()
	seed, err := base32.StdEncoding.DecodeString(strings.ReplaceAll(key, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	mac := hmac.New(sha1.New, seed)
	_ = binary.Write(mac, binary.BigEndian, at.Unix()/30)
	sum := mac.Sum(nil)
	n := binary.BigEndian.Uint32(sum[sum[len(sum)-1]&15:]) & 0x7fffffff
	return fmt.Sprintf("%06d", n%1_000_000)
}

// enrols sets up the authenticator app of the person who is signed in, as the
// program asks everybody to.
func (b *tab) enrols(login string) {
	b.t.Helper()
	b.sees("Second factors", "You have none yet")
	b.taps("Set up an app")
	key := b.reads("main .mono")
	b.types("Code that the new app shows", codeOf(b.t, key, time.Now()))
	b.types("Your password, again", password)
	b.taps("Set it up")
	b.sees("Your recovery codes", "shown only now")
	b.app.apps[login] = key
	b.taps("I have them, go on")
}

// proves types password and code into a form that signs.
func (b *tab) proves(login string) {
	b.t.Helper()
	b.types("Your password, again", b.app.password)
	b.types("Code from your authenticator app", b.app.code(b.t, login))
}
