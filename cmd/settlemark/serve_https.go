package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"time"

	"github.com/coreos/go-systemd/v22/activation"
	"golang.org/x/crypto/acme"

	"settlemark/handlers"
	"settlemark/internal/metrics"
	"settlemark/internal/problem"
	"settlemark/internal/trust"
	"settlemark/internal/words"
	"settlemark/web"
)

// guard is how the connections are protected.
type guard struct {
	config    *tls.Config // nil: http
	show      trust.Showing
	authority *trust.Authority                // of the site's own, or nil
	challenge func(http.Handler) http.Handler // answers the public authority on plain http, or nil
}

func openGuard(c config, log *slog.Logger) (g guard, err error) {
	switch c.https.way {
	case "files":
		var files *trust.Files
		if files, err = trust.OpenFiles(c.https.cert, c.https.key, c.https.host, time.Now, log); err != nil {
			return g, httpsRefused("The certificate for https can't be read. See that SETTLEMARK_TLS_CERT and SETTLEMARK_TLS_KEY name a certificate and the key that belongs to it, both as PEM.", err)
		}
		g.show = files.Show
	case "local":
		var made bool
		if g.authority, made, err = trust.OpenAuthority(c.authorityPath(), c.https.hosts, time.Now()); err != nil {
			return g, httpsRefused(fmt.Sprintf("The authority in %s can't vouch for this server. If its names have changed, move the file away and start again: another one is made, and every device has to install it.", c.authorityPath()), err)
		}
		if made {
			log.Info("made an authority for https; back up its folder apart from the database", "file", c.authorityPath())
		}
		g.show = trust.NewLocal(g.authority, time.Now, log).Show
	case "acme":
		manager := trust.ACME(filepath.Join(c.data, "keys", "acme"), c.https.host)
		g.show, g.challenge = manager.GetCertificate, manager.HTTPHandler
	default:
		return g, nil
	}
	g.config = trust.Config(g.show)
	if c.https.way == "acme" {
		g.config.NextProtos = append(g.config.NextProtos, acme.ALPNProto)
	}
	return g, nil
}

func httpsRefused(sentence string, cause error) error {
	return &problem.Error{Kind: problem.Invalid, Cause: cause, Sentence: words.Plain(sentence)}
}

// watch says once a day when the certificate nears its end.
func (g guard) watch(ctx context.Context, host string, log *slog.Logger) {
	day := time.NewTicker(24 * time.Hour)
	defer day.Stop()
	for {
		trust.Watch(g.show, host, time.Now(), log)
		select {
		case <-ctx.Done():
			return
		case <-day.C:
		}
	}
}

// listeners are the sockets that whoever started the program holds open for it, in
// the order in which they are asked for.
type listeners []net.Listener

// listen takes the next of them, or opens one.
func (l *listeners) listen(ctx context.Context, address, variable string) (net.Listener, error) {
	if len(*l) > 0 {
		next := (*l)[0]
		*l = (*l)[1:]
		return next, nil
	}
	return listen(ctx, address, variable)
}

func listen(ctx context.Context, address, variable string) (net.Listener, error) {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	if err != nil {
		return nil, &problem.Error{
			Kind: problem.Conflict, Cause: err,
			Sentence: words.Say("Settlemark can't listen on %s. Stop what uses it, or set %s to another address.", address, variable),
		}
	}
	return l, nil
}

// doors are the listeners with what answers on them.
type doors struct {
	all    []door // the site's first
	served chan error
}

type door struct {
	server *web.Server
	on     net.Listener
}

func (d *doors) address() net.Addr { return d.all[0].on.Addr() }

// openDoors opens the listeners; nothing is answered yet.
func openDoors(ctx context.Context, c config, g guard, s *handlers.Screens, m *metrics.Metrics) (_ *doors, err error) {
	d := &doors{}
	defer func() {
		for i := 0; err != nil && i < len(d.all); i++ {
			err = errors.Join(err, d.all[i].on.Close())
		}
	}()
	given, err := activation.Listeners()
	if err != nil {
		return nil, err
	}
	inherited := listeners(given)
	open := func(server *web.Server, address, variable string) error {
		on, err := inherited.listen(ctx, address, variable)
		if err == nil {
			d.all = append(d.all, door{server, on})
		}
		return err
	}
	site := web.New(s, web.Config{Proxies: c.proxies, TLS: g.config, NoWorker: c.noWorker, Metrics: m})
	if err = open(site, c.listen, "SETTLEMARK_LISTEN"); err != nil {
		return nil, err
	}
	if c.https.plain != "" {
		plain, err := web.Plain(s, web.Config{Proxies: c.proxies})
		if err != nil {
			return nil, err
		}
		if g.challenge != nil {
			plain = g.challenge(plain)
		}
		if err := open(web.NewPlain(plain, s.Log), c.https.plain, "SETTLEMARK_HTTP_LISTEN"); err != nil {
			return nil, err
		}
	}
	if c.metrics != "" {
		err = open(web.NewPlain(m.Handler(), s.Log), c.metrics, "SETTLEMARK_METRICS_LISTEN")
	}
	return d, err
}

func (d *doors) serve() {
	d.served = make(chan error, len(d.all))
	for _, one := range d.all {
		go func() { d.served <- one.server.Serve(one.on) }()
	}
}

func (d *doors) shut(ctx context.Context) (err error) {
	for _, one := range d.all {
		err = errors.Join(err, one.server.Shutdown(ctx, one.on))
	}
	return err
}
