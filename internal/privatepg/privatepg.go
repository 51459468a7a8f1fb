// Package privatepg runs a Postgres server of our own under a data folder, on Linux.
//
// Use Start for a program that keeps its data and StartThrowaway for tests.
// The server listens on a Unix socket only, runs as an unprivileged user even
// when root starts it, ends with this process however that ends, and is started
// again when it dies by itself. Nothing here ever deletes a database.
//
// Who may connect: the socket's folder belongs to the user that runs Postgres
// and is closed to everybody else, so only that user, who could read the files
// anyway, and root get as far as the socket. That is why the server asks for no
// password. Our own program may be root while Postgres runs as somebody else,
// so the operating system's user name says nothing here and is not compared.
//
// The package must not know tables, migrations or HTTP.
package privatepg

import (
	"context"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"sync"
	"time"
)

// The logins and the database that every private server has.
const (
	database   = "settlemark"
	ownerLogin = "settlemark_owner"
	superuser  = "postgres"
)

// AppLogin is the login that serves.
const AppLogin = "settlemark_app"

// Server is a running Postgres that belongs to this process.
type Server struct {
	folder    folder
	account   account
	programs  programs
	throwaway bool
	source    *Copy // nil: a cluster of our own
	database  string
	log       *slog.Logger

	stopOnce sync.Once
	stop     chan struct{} // closed by Close
	done     chan struct{} // closed when the server is gone for good
	err      error         // why, when nobody asked; read after done
}

// Start brings up the server whose data lives under dir, and makes both, the
// logins and the database where they are missing. It returns once the server
// answers; ctx ends the attempt, not the server. When a person can do something
// about a refusal, the error is a *problem.Error with the sentence to show.
func Start(ctx context.Context, dir string, log *slog.Logger) (*Server, error) {
	return start(ctx, dir, &Server{log: log})
}

// StartThrowaway brings up a server for tests in a temporary folder that Close
// removes. It gives up durability for speed.
func StartThrowaway(ctx context.Context, log *slog.Logger) (*Server, error) {
	dir, err := os.MkdirTemp("", "settlemark-pg-")
	if err != nil {
		return nil, err
	}
	server, err := start(ctx, dir, &Server{throwaway: true, log: log})
	if err != nil {
		_ = os.RemoveAll(dir)
	}
	return server, err
}

func start(ctx context.Context, dir string, s *Server) (*Server, error) {
	folder, err := openFolder(dir)
	if err != nil {
		return nil, err
	}
	s.folder, s.database = folder, database
	s.stop, s.done = make(chan struct{}), make(chan struct{})
	first, err := s.bringUp(ctx)
	if err != nil {
		folder.unlock()
		return nil, err
	}
	go s.supervise(first) //nolint:gosec // ctx ends the attempt to start, not the server's life
	return s, nil
}

// bringUp goes from a folder in any state to a server that answers.
func (s *Server) bringUp(ctx context.Context) (*process, error) {
	var err error
	if s.account, err = chooseAccount(s.folder.data()); err != nil {
		return nil, err
	}
	if s.source != nil {
		return s.bringUpCopy(ctx)
	}
	if s.programs, err = findPrograms(s.folder, s.account); err != nil {
		return nil, err
	}
	if err := s.folder.keepLastLog(); err != nil {
		return nil, err
	}
	if err := s.initialise(ctx); err != nil {
		return nil, err
	}
	p, err := s.launch(ctx)
	if err != nil {
		return nil, err
	}
	if err := s.createLogins(ctx); err != nil {
		p.end(s.log)
		return nil, fmt.Errorf("logins of the private server: %w", err)
	}
	return p, nil
}

// supervise ends the server when Close asks, and starts it again when it dies.
func (s *Server) supervise(p *process) {
	defer close(s.done)
	defer s.folder.unlock()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() { <-s.stop; cancel() }()
	for {
		select {
		case <-s.stop:
			p.end(s.log)
			return
		case <-p.exited:
		}
		s.log.Error("postgres ended by itself and is started again", "cause", p.err)
		select {
		case <-s.stop:
			return
		case <-time.After(time.Second): // no hot loop when it dies each time
		}
		var err error
		if p, err = s.launch(ctx); err != nil {
			if ctx.Err() == nil {
				s.err = err
			}
			return
		}
	}
}

// Close ends the server cleanly and waits for it. It may be called twice.
func (s *Server) Close() {
	s.stopOnce.Do(func() { close(s.stop) })
	<-s.done
	if s.throwaway {
		_ = os.RemoveAll(s.folder.dir)
	}
}

// Done is closed once the server is gone for good: after Close, or when it died
// and could not be started again. Err then says why.
func (s *Server) Done() <-chan struct{} { return s.done }

// Err says why the server is gone; nil after Close. Call it after Done.
func (s *Server) Err() error {
	<-s.done
	return s.err
}

// OwnerURL connects as the login that owns the database: for migrations.
func (s *Server) OwnerURL() string { return s.url(ownerLogin, database) }

// AppURL connects as the login that serves.
func (s *Server) AppURL() string { return s.url(AppLogin, database) }

// AdminURL connects as the superuser: for tests that make databases or play the
// attacker, and to look at the copy of a backup. Over its own record the program
// has no use for it.
func (s *Server) AdminURL() string { return s.url(superuser, s.database) }

func (s *Server) url(login, name string) string {
	socket := url.Values{"host": {s.folder.run()}, "port": {port}}
	u := url.URL{Scheme: "postgres", User: url.User(login), Host: "", Path: "/" + name, RawQuery: socket.Encode()}
	return u.String()
}
