package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/trust"
	"settlemark/internal/urls"
)

// opening is what a newcomer is told when the app begins to serve.
type opening struct {
	data     string // folder of the private Postgres, "" with DATABASE_URL
	demo     bool   // the database holds the demo
	simulate bool
	signIns  demo.SignIns
	setup    string // one-time code, "" when there is an administrator
}

// prepare fills an empty database: with the demo, or with the procedures that
// come with the program and a code for the first administrator.
func prepare(ctx context.Context, c config, d *db.DB, acts *act.Acts) (opening, error) {
	o := opening{}
	if c.privateSrv {
		o.data = c.data
	}
	people, err := d.People(ctx)
	if err != nil {
		return o, err
	}
	if len(people) == 0 && c.demo {
		if o.signIns, err = demo.Load(ctx, acts, d, time.Now()); err != nil {
			return o, fmt.Errorf("demo: %w", err)
		}
	}
	if o.demo, err = holdsDemo(ctx, d); err != nil {
		return o, err
	}
	if o.demo {
		o.signIns, o.simulate = demo.Everybody(), c.demo
		return o, nil
	}
	if err := addShipped(ctx, d, acts); err != nil {
		return o, err
	}
	code, needed, err := acts.SetupCode(ctx, time.Now())
	if needed {
		o.setup = code
	}
	return o, err
}

func holdsDemo(ctx context.Context, d *db.DB) (bool, error) {
	sites, err := d.Sites(ctx)
	for _, site := range sites {
		if site.Demo {
			return true, nil
		}
	}
	return false, err
}

// addShipped stores the procedures that come with the program, as drafts.
func addShipped(ctx context.Context, d *db.DB, acts *act.Acts) error {
	stored, err := d.Procedures(ctx)
	if err != nil || len(stored) > 0 {
		return err
	}
	shipped, err := commissioning.ShippedProcedures()
	if err != nil {
		return err
	}
	for _, yaml := range shipped {
		if _, err := acts.AddProcedure(ctx, nil, yaml, false, time.Now()); err != nil {
			return fmt.Errorf("shipped procedure: %w", err)
		}
	}
	return nil
}

// print says where the app is and how to get in. The first line is for
// programs too: tests read the address from it.
func (o opening) print(w io.Writer, address net.Addr, c config, authority *trust.Authority) {
	base := "http://" + address.String()
	if c.https.way != "" {
		base = c.publicURL
	}
	say(w, "Settlemark serves %s", base)
	if authority != nil {
		say(w, "  trust   Devices install the authority of this site once, from %s%s", trustBase(c), urls.TrustPattern)
		say(w, "          Its fingerprint (SHA-256) there must be %s", trust.Fingerprint(authority.Certificate))
	}
	if o.data != "" {
		say(w, "  data    %s", o.data)
	}
	if o.demo {
		say(w, "  demo    Everything in it is invented. The password of everybody: %s", o.signIns.Password)
		say(w, "          The pages show the code of the second factor. The key for an authenticator app of everybody: %s", auth.SeedText(o.signIns.Seed))
		for _, p := range o.signIns.People {
			say(w, "          %-8s %s, %s", p.Login, p.Name, p.Part)
		}
	}
	if o.setup != "" {
		say(w, "  begin   Open %s%s and use the one-time code %s", base, urls.SetupPattern, o.setup)
	}
	if strings.HasPrefix(base, "http://0.0.0.0") || strings.HasPrefix(base, "http://[::]") {
		say(w, "  note    People sign in over https, or on this machine by http://localhost")
	}
	say(w, "  stop    Ctrl-C")
}

// trustBase is where devices that do not trust the site yet are served. A port
// that is published under another number is the operator's to know.
func trustBase(c config) string {
	_, port, err := net.SplitHostPort(c.https.plain)
	switch {
	case err != nil:
		return c.publicURL
	case port == "80":
		return "http://" + c.https.host
	}
	return "http://" + net.JoinHostPort(c.https.host, port)
}
