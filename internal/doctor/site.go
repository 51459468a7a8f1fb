package doctor

import (
	"context"
	"net"
	"os"
	"strconv"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
)

// Sealing looks at the log: whether it is sealed, and whether checkpoints leave this machine.
func Sealing(ctx context.Context, acts *act.Acts, d *db.DB, now time.Time) (all []Finding) {
	trouble, err := acts.LogTrouble(ctx, now)
	if err != nil {
		return []Finding{unread("log", err)}
	}
	if !trouble.Empty() {
		all = append(all, wrong("log", "Do what the sentence says; docs/backup.md has more under \"After a restore\".", "%s", trouble))
	} else {
		all = append(all, well("log", "sealed"))
	}
	state, err := d.LogState(ctx)
	if err != nil {
		return append(all, unread("log", err))
	}
	l := acts.Log
	if _, err := os.Stat(l.HighWater()); err != nil && state.Signed > 0 {
		all = append(all, wrong("checkpoint", "Bring log.high-water back beside the log's key from where checkpoints are kept.", "The newest one that this machine signed can't be read: %v", err))
	}
	switch {
	case l.Witnesses == "" && l.Export == "":
		all = append(all, wrong("witnesses", "Set SETTLEMARK_EXPORT to a folder on another machine, or SETTLEMARK_WITNESSES to who cosigns.",
			"No checkpoint leaves this machine, so who holds it could write history anew."))
	case l.Witnesses != "" && state.Published < state.Signed:
		newest, err := d.LogCheckpoint(ctx, state.Epoch)
		if err == nil && now.Sub(newest.SealedAt) > 10*time.Minute {
			all = append(all, wrong("witnesses", "See that they are reached from here; the log of the program names each that does not answer.",
				"The checkpoint of %s has not got the cosignatures that the policy asks for.", newest.SealedAt.Format(time.RFC3339)))
		}
	default:
		all = append(all, well("witnesses", "checkpoints leave this machine"))
	}
	return all
}

// Reached says whether somebody listens at a host's port.
func Reached(ctx context.Context, about, host string, port int) Finding {
	address := net.JoinHostPort(host, strconv.Itoa(port))
	connection, err := (&net.Dialer{Timeout: 5 * time.Second}).DialContext(ctx, "tcp", address)
	if err != nil {
		return wrong(about, "See that its name and port are right and that this machine may reach it.", "It is not reached at %s: %v", address, err)
	}
	_ = connection.Close()
	return well(about, "reached at %s", address)
}

// Door looks at who can reach the program, and how.
func Door(listen, public string, https, behindProxy bool) Finding {
	host, _, err := net.SplitHostPort(listen)
	ip := net.ParseIP(host)
	inside := host == "localhost" || ip != nil && ip.IsLoopback()
	switch {
	case err != nil:
		return wrong("address", "Set SETTLEMARK_LISTEN to an address such as 127.0.0.1:8080.", "SETTLEMARK_LISTEN %q is none.", listen)
	case https:
		return well("address", "https on %s as %s", listen, public)
	case !inside && !behindProxy:
		return wrong("address", "Set SETTLEMARK_TLS, or put a proxy with a certificate in front and name it in SETTLEMARK_PROXIES.",
			"It listens on %s for http only, where nobody can sign in from another machine.", listen)
	case public == "":
		return wrong("address", "Set SETTLEMARK_URL to the address that people open; passkeys and the links on certificates need it.", "SETTLEMARK_URL is not set.")
	}
	return well("address", "http on %s behind %s", listen, public)
}
