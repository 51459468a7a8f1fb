// Package mail sends short texts through the plant's mail server. Only the
// operator names the server; off this machine it is spoken to over TLS, or not at
// all. docs/mail.md says how it is set.
package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"

	smtp "github.com/wneessen/go-mail"
)

// Limit of one delivery, from the look-up of the name to the server's last word.
const Limit = 20 * time.Second

// Server is the plant's mail server.
type Server struct {
	Host, User, Password string
	Port                 int
	TLS                  bool   // from the first byte, else by STARTTLS
	From                 string // address of the sender

	Roots *x509.CertPool // who may vouch for it, nil for those of the machine
}

// Read reads its address, such as smtp://user@mail.example:587 or
// smtps://mail.example, and takes the password from elsewhere.
func Read(address, from, password string) (Server, error) {
	u, err := url.Parse(address)
	if err != nil || u.Hostname() == "" || (u.Scheme != "smtp" && u.Scheme != "smtps") || strings.Trim(u.Path, "/") != "" {
		return Server{}, errors.New("it is no address such as smtp://user@mail.example:587")
	}
	if _, set := u.User.Password(); set {
		return Server{}, errors.New("it may hold no password; put that into a file")
	}
	s := Server{Host: u.Hostname(), User: u.User.Username(), Password: password, TLS: u.Scheme == "smtps", Port: 587}
	if s.TLS {
		s.Port = 465
	}
	if u.Port() != "" {
		if s.Port, err = strconv.Atoi(u.Port()); err != nil {
			return Server{}, err
		}
	}
	if (s.User == "") != (s.Password == "") {
		return Server{}, errors.New("a user and a password belong together")
	}
	s.From, err = Address(from)
	return s, err
}

// Address takes what people type as an address, and nothing that could be more
// than one.
func Address(typed string) (string, error) {
	typed = strings.TrimSpace(typed)
	a, err := netmail.ParseAddress(typed)
	odd := func(r rune) bool { return r <= ' ' || r >= unicode.MaxASCII || strings.ContainsRune(`"<>(),;:\`, r) }
	if err != nil || a.Name != "" || a.Address != typed || len(typed) > 254 || strings.ContainsFunc(typed, odd) {
		return "", errors.New("this is no e-mail address such as name@plant.example")
	}
	return typed, nil
}

// Letter is one message to one person.
type Letter struct {
	ID                string // the same again when it is sent once more
	To, Subject, Text string
}

// RefusedError is an error that another try would not change.
type RefusedError struct{ cause error }

func (r RefusedError) Error() string { return r.cause.Error() }

func (r RefusedError) Unwrap() error { return r.cause }

// Send brings a letter to the server. Other errors than RefusedError may go away: the
// caller tries again, so somebody may get a letter twice, with the same id.
func (s Server) Send(ctx context.Context, l Letter) error {
	to, err := Address(l.To)
	if err != nil {
		return RefusedError{err}
	}
	m := smtp.NewMsg()
	if err := errors.Join(m.From(s.From), m.To(to)); err != nil {
		return RefusedError{err}
	}
	_, domain, _ := strings.Cut(s.From, "@")
	m.Subject(oneLine(l.Subject))
	m.SetMessageIDWithValue(oneLine(l.ID) + "@" + domain)
	m.SetDate()
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	m.SetBodyString(smtp.TypeTextPlain, l.Text)

	client, err := smtp.NewClient(s.Host, s.options()...)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, Limit)
	defer cancel()
	err = client.DialAndSendWithContext(ctx, m)
	var answer *smtp.SendError
	if errors.As(err, &answer) && answer.ErrorCode() >= 500 {
		return RefusedError{fmt.Errorf("the mail server refuses it: %w", err)}
	}
	return err
}

func (s Server) options() []smtp.Option {
	options := []smtp.Option{
		smtp.WithPort(s.Port), smtp.WithTimeout(Limit), smtp.WithoutNoop(),
		smtp.WithTLSConfig(&tls.Config{ServerName: s.Host, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}),
	}
	switch {
	case s.TLS:
		options = append(options, smtp.WithSSL())
	case s.here():
		options = append(options, smtp.WithTLSPolicy(smtp.NoTLS))
	default:
		options = append(options, smtp.WithTLSPolicy(smtp.TLSMandatory))
	}
	if s.User != "" {
		options = append(options, smtp.WithSMTPAuth(smtp.SMTPAuthAutoDiscover), smtp.WithUsername(s.User), smtp.WithPassword(s.Password))
	}
	return options
}

// here says whether the server is this machine, so that nothing goes over a network.
func (s Server) here() bool {
	ip := net.ParseIP(s.Host)
	return s.Host == "localhost" || ip != nil && ip.IsLoopback() && s.Roots == nil
}

// oneLine keeps a text from becoming more than one header.
func oneLine(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, text)
}
