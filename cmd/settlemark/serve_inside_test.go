package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"settlemark/db/dbtest"
)

// served is the program as `settlemark` runs it, in this process.
type served struct {
	base    string
	opening string // what it printed
	end     func() int
}

func serveHere(t *testing.T) served {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, nil, nil, in, t.Output())
		_ = in.Close()
	}()
	var s served
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		s.opening += lines.Text() + "\n"
		if base, ok := strings.CutPrefix(lines.Text(), "Settlemark serves "); ok {
			s.base = base
		}
		if strings.Contains(lines.Text(), "stop") {
			break
		}
	}
	s.end = func() int {
		cancel()
		return <-status
	}
	if s.base == "" {
		t.Fatalf("it did not begin to serve: %s, status %d", s.opening, s.end())
	}
	return s
}

func TestServe(t *testing.T) {
	folder := serverFolder(t)
	t.Setenv("SETTLEMARK_DATA", folder)
	t.Setenv("SETTLEMARK_LISTEN", "127.0.0.1:0")
	t.Setenv("SETTLEMARK_DEMO", "0")
	t.Setenv("DATABASE_URL", "")
	t.Setenv("DATABASE_OWNER_URL", "")
	code := ""
	t.Run("an_empty_database_prints_the_address_and_a_one_time_code", func(t *testing.T) {
		s := serveHere(t)
		found := regexp.MustCompile(`Open (http://\S+/setup) and use the one-time code (\S+)`).FindStringSubmatch(s.opening)
		if found == nil || strings.Contains(s.opening, "demo") {
			t.Errorf("it printed %s", s.opening)
		} else {
			code = found[2]
		}
		if got := status(t, s.base+"/healthz"); got != http.StatusOK {
			t.Errorf("/healthz answers %d", got)
		}
		if got := status(t, s.base+"/setup"); got != http.StatusOK {
			t.Errorf("/setup answers %d", got)
		}
		if err := askHealth(t.Context(), config{listen: strings.TrimPrefix(s.base, "http://")}); err != nil {
			t.Errorf("healthz: %v", err)
		}
		var says bytes.Buffer
		if got := run(t.Context(), []string{"doctor"}, nil, &says, t.Output()); got != 1 ||
			!regexp.MustCompile(`(?m)^ok     rights      the login that serves can't change evidence\nok     clock [\s\S]*^WRONG  witnesses [\s\S]*^2 of \d+ things are not`).Match(says.Bytes()) ||
			!strings.Contains(says.String(), "ok     durability  Grade B: ") || !strings.Contains(says.String(), "WRONG  address     SETTLEMARK_URL is not set.\n") {
			t.Errorf("doctor: status %d: %s", got, &says)
		}
		if got := s.end(); got != 0 {
			t.Errorf("it ended with %d", got)
		}
		says.Reset()
		if got := run(t.Context(), []string{"doctor"}, nil, &says, t.Output()); got != 1 || !strings.Contains(says.String(), "No program serves from "+folder) {
			t.Errorf("doctor of nothing: status %d: %s", got, &says)
		}
		if _, err := http.Get(s.base + "/healthz"); err == nil {
			t.Error("it still serves")
		}
	})
	t.Run("the_same_folder_starts_again_with_a_new_code", func(t *testing.T) {
		s := serveHere(t)
		defer s.end()
		if strings.Contains(s.opening, code) || !strings.Contains(s.opening, "one-time code") {
			t.Errorf("it printed %s", s.opening)
		}
	})
	key := filepath.Join(folder, "keys", "secrets.key")
	t.Run("a_lost_key_file_is_made_again_while_nobody_needs_it", func(t *testing.T) {
		must(t, os.Remove(key))
		s := serveHere(t)
		defer s.end()
		dbtest.Exec(t, "postgres://settlemark_owner@/settlemark?host="+filepath.Join(folder, "run"),
			`insert into settlemark.persons (name, login, password) values ('Ada Holm', 'ada', '$argon2id$v=19$m=8,t=1,p=1,keyid=01234567$c2FsdA$aGFzaA');
			insert into settlemark.grants (person_id, role) select id, 'administrator' from settlemark.persons`)
	})
	t.Run("a_lost_key_file_that_passwords_were_made_with_is_asked_for_and_not_replaced", func(t *testing.T) {
		must(t, os.Remove(key))
		var said bytes.Buffer
		if status := run(t.Context(), nil, nil, io.Discard, &said); status != 1 || !strings.Contains(said.String(), "Bring it back from its backup") {
			t.Errorf("status %d: %s", status, &said)
		}
		if _, err := os.Stat(key); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("the file: %v", err)
		}
	})
	t.Run("without_a_copy_a_new_key_voids_what_was_made_with_the_old_one_and_an_administrator_begins_anew", func(t *testing.T) {
		var says, wrong bytes.Buffer
		if status := run(t.Context(), []string{"new-secrets", "--administrator", "ada", "--void"}, nil, &says, &wrong); status != 0 {
			t.Fatalf("status %d: %s", status, &wrong)
		}
		found := regexp.MustCompile(`is void now: 1\n[\s\S]+one-time code (\S+)`).FindStringSubmatch(says.String())
		if found == nil {
			t.Fatalf("it says %s", &says)
		}
		s := serveHere(t)
		defer s.end()
		form := url.Values{"code": {found[1]}, "password": {"four quiet brown jars"}}
		a, err := http.PostForm(s.base+"/invite", form) // the redirect needs the cookie and shows the sign-in page
		must(t, err)
		must(t, a.Body.Close())
		if a.StatusCode != http.StatusOK {
			t.Errorf("the one-time code: status %d", a.StatusCode)
		}
		dbtest.Exec(t, "postgres://settlemark_owner@/settlemark?host="+filepath.Join(folder, "run"), `do $$ begin
			if (select password from settlemark.persons where login = 'ada') like '%01234567%'
				or (select count(*) from settlemark.acts where act in ('key file replaced', 'invite made', 'password set')) <> 3 then
				raise exception 'not replaced, or not noted';
			end if;
		end $$`)
	})
}

// serverFolder is a new folder that the account which runs Postgres may enter.
func serverFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "settlemark-serve-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil { // root may run Postgres as somebody else
		t.Fatal(err)
	}
	return filepath.Join(dir, "data")
}

func status(t *testing.T, address string) int {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	_ = a.Body.Close()
	return a.StatusCode
}
