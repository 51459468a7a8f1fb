package main

import (
	"context"
	"net"
	"net/netip"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"settlemark/internal/jobs"
	"settlemark/internal/webhook"
	"settlemark/templates"
)

// hooks are the receivers of webhooks. No target may lead to where the program
// itself listens, nor to its database.
func (c config) hooks(listens net.Addr) jobs.Webhooks {
	own := addresses(listens.String())
	if database, err := pgconn.ParseConfig(c.appURL); c.appURL != "" && err == nil {
		own = append(own, addresses(net.JoinHostPort(database.Host, strconv.Itoa(int(database.Port))))...)
		for _, f := range database.Fallbacks {
			own = append(own, addresses(net.JoinHostPort(f.Host, strconv.Itoa(int(f.Port))))...)
		}
	}
	return jobs.Webhooks{Sender: webhook.New(own, time.Now), Targets: c.webhooks, Site: c.publicURL}
}

// receivers are what pages may show of the targets.
func (c config) receivers() (all []templates.Receiver) {
	for _, t := range c.webhooks {
		all = append(all, templates.Receiver{Name: t.Name, Host: t.Host()})
	}
	return all
}

// post is the way of e-mails, nil where there is no mail server.
func (c config) post() *jobs.Mail {
	if c.mail == nil {
		return nil
	}
	return &jobs.Mail{Server: *c.mail, Site: c.publicURL}
}

// addresses are what a host and port mean on the network; none for a socket in
// the file system. Where the program listens on every address, its port counts
// on each of this machine.
func addresses(hostPort string) (all []netip.AddrPort) {
	host, port, err := net.SplitHostPort(hostPort)
	if err != nil {
		return nil
	}
	n, err := strconv.ParseUint(port, 10, 16)
	if err != nil {
		return nil
	}
	if ip, err := netip.ParseAddr(host); err == nil && ip.IsUnspecified() {
		mine, _ := net.InterfaceAddrs() // without them only what was named is refused
		for _, a := range mine {
			if p, err := netip.ParsePrefix(a.String()); err == nil {
				all = append(all, netip.AddrPortFrom(p.Addr(), uint16(n)))
			}
		}
		return all
	}
	ips, err := net.DefaultResolver.LookupNetIP(context.Background(), "ip", host)
	if err != nil {
		return nil
	}
	for _, ip := range ips {
		all = append(all, netip.AddrPortFrom(ip, uint16(n)))
	}
	return all
}
