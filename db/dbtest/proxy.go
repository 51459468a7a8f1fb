package dbtest

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// Cut is what the proxy does to a COMMIT before it breaks the connection.
type Cut int

const (
	NotStored  Cut = iota + 1 // the server never gets it
	AnswerLost                // the server does it, the program never hears
)

// Weather is what the network between program and server is like.
type Weather int32

const (
	Fair  Weather = iota
	Slow          // every message waits a tenth of a second
	Hole          // what is sent arrives nowhere, and nobody is told
	Mute          // what is sent arrives, the answers do not
	Reset         // every connection is broken, and no new one comes about
)

// Proxy stands between the program and the server and breaks connections.
type Proxy struct {
	URL     string // as AppURL, through the proxy
	backend string // socket of the server

	mu   sync.Mutex
	cut  Cut
	skip int
	done int

	weather atomic.Int32
	open    map[net.Conn]bool
}

// Change changes the weather. A connection that lost a message in it stays
// silent for good: no network leaves out the middle of a stream.
func (p *Proxy) Change(w Weather) {
	p.weather.Store(int32(w))
	p.mu.Lock()
	defer p.mu.Unlock()
	for client := range p.open {
		if w == Reset {
			_ = client.Close()
		}
	}
}

func (p *Proxy) is(w Weather) bool { return Weather(p.weather.Load()) == w }

// entered notes a connection until left is called.
func (p *Proxy) entered(client net.Conn) (left func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.open[client] = true
	return func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.open, client)
	}
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
	p := &Proxy{open: map[net.Conn]bool{}, backend: filepath.Join(query.Get("host"), ".s.PGSQL."+query.Get("port"))}
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
	defer p.entered(client)()
	if p.is(Reset) {
		return
	}
	server, err := net.Dial("unix", p.backend)
	if err != nil {
		fmt.Println("proxy:", err)
		return
	}
	defer server.Close() //nolint:errcheck // broken on purpose
	answers := &mutable{to: client, when: func() bool { return p.is(Mute) || p.is(Hole) }}
	go func() {
		_, _ = io.Copy(answers, server)
		_ = client.Close() // a cancel request is answered by closing
	}()
	buffer, lost := make([]byte, 1<<20), false
	for {
		n, err := client.Read(buffer)
		if err != nil {
			return
		}
		if p.is(Slow) {
			time.Sleep(100 * time.Millisecond)
		}
		if lost = lost || p.is(Hole); lost {
			continue
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
	when  func() bool
}

func (m *mutable) mute() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.muted = true
}

func (m *mutable) Write(b []byte) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.muted = m.muted || m.when(); m.muted {
		return len(b), nil
	}
	return m.to.Write(b)
}
