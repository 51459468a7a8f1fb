package dbtest

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// Cut is what the proxy does to a COMMIT before it breaks the connection.
type Cut int

const (
	NotStored  Cut = iota + 1 // the server never gets it
	AnswerLost                // the server does it, the program never hears
)

// Proxy stands between the program and the server and breaks connections.
type Proxy struct {
	URL     string // as AppURL, through the proxy
	backend string // socket of the server

	mu   sync.Mutex
	cut  Cut
	skip int
	done int
}

// Through gives a proxy in front of the address.
func Through(t testing.TB, address string) *Proxy {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	query := u.Query()
	p := &Proxy{backend: filepath.Join(query.Get("host"), ".s.PGSQL."+query.Get("port"))}
	query.Del("host")
	query.Del("port")
	query.Set("sslmode", "disable")
	u.Host, u.RawQuery = listener.Addr().String(), query.Encode()
	p.URL = u.String()
	go func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return
			}
			go p.serve(client)
		}
	}()
	return p
}

// CutCommit breaks the connection at the next COMMIT after skip others, once.
func (p *Proxy) CutCommit(how Cut, skip int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.cut, p.skip, p.done = how, skip, 0
}

// Cuts says how many connections were broken since CutCommit.
func (p *Proxy) Cuts() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.done
}

// due says what to do with a message of the client.
func (p *Proxy) due(message []byte) Cut {
	if !bytes.Contains(message, []byte("commit\x00")) {
		return 0
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cut == 0 {
		return 0
	}
	if p.skip > 0 {
		p.skip--
		return 0
	}
	how := p.cut
	p.cut, p.done = 0, p.done+1
	return how
}

func (p *Proxy) serve(client net.Conn) {
	defer client.Close() //nolint:errcheck // broken on purpose
	server, err := net.Dial("unix", p.backend)
	if err != nil {
		fmt.Println("proxy:", err)
		return
	}
	defer server.Close() //nolint:errcheck // broken on purpose
	answers := &mutable{to: client}
	go func() {
		_, _ = io.Copy(answers, server)
		_ = client.Close() // a cancel request is answered by closing
	}()
	buffer := make([]byte, 1<<20)
	for {
		n, err := client.Read(buffer)
		if err != nil {
			return
		}
		switch p.due(buffer[:n]) {
		case NotStored:
			return
		case AnswerLost:
			answers.mute()
			_, _ = server.Write(buffer[:n])
			time.Sleep(50 * time.Millisecond) // the server commits
			return
		}
		if _, err := server.Write(buffer[:n]); err != nil {
			return
		}
	}
}

// mutable passes on what it gets, until it is muted.
type mutable struct {
	mu    sync.Mutex
	to    io.Writer
	muted bool
}

func (m *mutable) mute() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.muted = true
}

func (m *mutable) Write(b []byte) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.muted {
		return len(b), nil
	}
	return m.to.Write(b)
}
