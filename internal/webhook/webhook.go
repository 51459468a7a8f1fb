// Package webhook tells other programs of the plant: a pager gateway, a chat, a
// stack light. A target is reached only if the operator's file names it, over
// https unless that file says plain, and its body is signed with a secret of
// that target.
//
// In a plant private addresses are the right ones, so the file is the list of
// what is allowed; what no target may ever be (this machine, link-local,
// multicast, the database, the program itself) is refused at the address that is
// really dialled, after the name was resolved. Redirects and proxies are not
// followed. docs/webhooks.md tells receivers what comes.
package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"syscall"
	"time"

	"settlemark/internal/commissioning"
)

const (
	// Limit of one delivery, from the look-up of the name to the end of the answer.
	Limit = 5 * time.Second
	// MostAnswer is how much of an answer is read, in bytes.
	MostAnswer = 64 << 10

	leastSecret = 16 // bytes
)

// Target is one receiver.
type Target struct {
	Name   string                `json:"name"`
	URL    string                `json:"url"`
	Secret string                `json:"secret"`
	Plain  bool                  `json:"plain"`  // http is allowed, inside a network that is trusted
	Events []commissioning.Event `json:"events"` // all when empty
}

// Read reads the operator's file: a JSON list of targets. The error names the
// target and says what is wrong with it.
func Read(file []byte) ([]Target, error) {
	var all []Target
	d := json.NewDecoder(bytes.NewReader(file))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		return nil, fmt.Errorf("no list of targets: %w", err)
	}
	names := map[string]bool{}
	for _, t := range all {
		if t.Name == "" || names[t.Name] {
			return nil, fmt.Errorf("every target needs a name of its own: %q", t.Name)
		}
		names[t.Name] = true
		if _, err := t.address(); err != nil {
			return nil, fmt.Errorf("target %s: %w", t.Name, err)
		}
		for _, e := range t.Events {
			if !slices.Contains(commissioning.Events, e) {
				return nil, fmt.Errorf("target %s: there is no event %q; there are %v", t.Name, e, commissioning.Events)
			}
		}
		if len(t.Secret) < leastSecret {
			return nil, fmt.Errorf("target %s: its secret needs at least %d characters", t.Name, leastSecret)
		}
	}
	return all, nil
}

// address takes only what can be meant: no user in it, no other scheme.
func (t Target) address() (*url.URL, error) {
	u, err := url.Parse(t.URL)
	switch {
	case err != nil || u.Hostname() == "" || u.Opaque != "":
		return nil, fmt.Errorf("%q is no address such as https://gateway.example:8443/settlemark", t.URL)
	case u.User != nil:
		return nil, errors.New("its address may hold no user or password")
	case u.Scheme != "https" && (u.Scheme != "http" || !t.Plain):
		return nil, errors.New("its address must begin with https://, or with http:// where plain is true")
	case u.Fragment != "":
		return nil, errors.New("its address may hold no #")
	}
	return u, nil
}

// Host is the part of its address that names the machine, and its port.
func (t Target) Host() string {
	u, err := t.address()
	if err != nil {
		return ""
	}
	return u.Host
}

// Message is what a receiver gets, as JSON.
type Message struct {
	ID    string    `json:"id"` // the same again when a delivery is repeated
	Event string    `json:"event"`
	At    time.Time `json:"at"`
	Unit  string    `json:"unit"`
	Run   string    `json:"run"`
	Text  string    `json:"text"`
	URL   string    `json:"url,omitempty"`
}

// Sender delivers messages.
type Sender struct {
	// Refuse says why an address may not be dialled, nil when it may.
	Refuse func(netip.AddrPort) error

	now func() time.Time
}

// New makes a sender that never dials the program's own addresses, given as
// host and port, such as its database's.
func New(own []netip.AddrPort, now func() time.Time) *Sender {
	return &Sender{now: now, Refuse: func(to netip.AddrPort) error { return forbidden(to, own) }}
}

// nat64 are IPv4 addresses in the clothes of IPv6.
var nat64 = []netip.Prefix{netip.MustParsePrefix("64:ff9b::/96"), netip.MustParsePrefix("64:ff9b:1::/48"), netip.MustParsePrefix("2002::/16")}

func forbidden(to netip.AddrPort, own []netip.AddrPort) error {
	ip := to.Addr().Unmap().WithZone("")
	switch {
	case ip.IsLoopback():
		return errors.New("it leads to this machine")
	case ip.IsLinkLocalUnicast(), ip.IsLinkLocalMulticast(), ip.IsInterfaceLocalMulticast():
		return errors.New("it is a link-local address")
	case ip.IsUnspecified(), !ip.IsValid(), ip.Is4() && ip.As4()[0] == 0:
		return errors.New("it is no address of a machine")
	case ip.IsMulticast(), ip == netip.AddrFrom4([4]byte{255, 255, 255, 255}):
		return errors.New("it is an address of many machines")
	case to.Port() == 5432:
		return errors.New("it is the port of a database")
	}
	for _, p := range nat64 {
		if p.Contains(ip) {
			return errors.New("it is an IPv4 address inside an IPv6 one")
		}
	}
	for _, o := range own {
		if netip.AddrPortFrom(o.Addr().Unmap(), o.Port()) == netip.AddrPortFrom(ip, to.Port()) {
			return errors.New("it is an address of this program or of its database")
		}
	}
	return nil
}

// Sign gives what the header Settlemark-Signature holds: v1= and the HMAC-SHA-256
// (RFC 2104) in hex of the time stamp, a full stop and the body.
func Sign(secret, timestamp string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(timestamp + "."))
	mac.Write(body)
	return "v1=" + hex.EncodeToString(mac.Sum(nil))
}

// StatusError is the answer of a receiver that did not take a message.
type StatusError struct {
	Target string
	Status int
}

func (e StatusError) Error() string { return fmt.Sprintf("%s answers %d", e.Target, e.Status) }

// Send delivers a message. Any answer but 2xx is an error; the caller tries
// again, so a receiver may see a message twice, with the same id.
func (s *Sender) Send(ctx context.Context, t Target, m Message) error {
	u, err := t.address()
	if err != nil {
		return err
	}
	body, err := json.Marshal(m)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, Limit)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, u.String(), bytes.NewReader(body))
	if err != nil {
		return err
	}
	timestamp := strconv.FormatInt(s.now().Unix(), 10)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "Settlemark")
	r.Header.Set("Settlemark-Timestamp", timestamp)
	r.Header.Set("Settlemark-Signature", Sign(t.Secret, timestamp, body))
	transport := s.transport()
	defer transport.CloseIdleConnections()
	client := http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := client.Do(r)
	if err != nil {
		return fmt.Errorf("%s: %w", t.Name, err)
	}
	defer answer.Body.Close() //nolint:errcheck // it was only read
	read, err := io.Copy(io.Discard, io.LimitReader(answer.Body, MostAnswer+1))
	switch {
	case err != nil:
		return fmt.Errorf("%s: its answer: %w", t.Name, err)
	case read > MostAnswer:
		return fmt.Errorf("%s: its answer is longer than %d bytes", t.Name, MostAnswer)
	case answer.StatusCode/100 != 2:
		return StatusError{Target: t.Name, Status: answer.StatusCode}
	}
	return nil
}

// transport dials what the guard lets through: it sees the address after the
// name was resolved, so a name that leads elsewhere the next time gains nothing.
func (s *Sender) transport() *http.Transport {
	dialer := net.Dialer{Timeout: Limit, Control: func(_, address string, _ syscall.RawConn) error {
		to, err := netip.ParseAddrPort(address)
		if err == nil {
			err = s.Refuse(to)
		}
		if err != nil {
			return fmt.Errorf("%s is refused: %w", address, err)
		}
		return nil
	}}
	return &http.Transport{Proxy: nil, DialContext: dialer.DialContext, TLSHandshakeTimeout: Limit, MaxResponseHeaderBytes: MostAnswer, DisableKeepAlives: true, ForceAttemptHTTP2: true}
}
