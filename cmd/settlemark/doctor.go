package main

import (
	"context"
	"flag"
	"io"
	"log/slog"
	"os"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/doctor"
	"settlemark/internal/privatepg"
	"settlemark/internal/trust"
)

// lookOver looks at the installation that the environment describes, beside the
// program that serves. It exits with 0 when all is well and 1 when something is not.
func lookOver(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("doctor", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	backups := flags.String("backups", "", "folder that backups are written to")
	if flags.Parse(args) != nil || flags.NArg() > 0 {
		say(stderr, "usage: settlemark doctor [--backups FOLDER]")
		return 2
	}
	found := examine(ctx, *backups)
	troubles := 0
	for _, f := range found {
		if f.Do == "" {
			say(stdout, "ok     %-11s %s", f.About, oneLine(f.Says))
			continue
		}
		troubles++
		say(stdout, "WRONG  %-11s %s\n       %-11s -> %s", f.About, oneLine(f.Says), "", f.Do)
	}
	if troubles > 0 {
		say(stdout, "%d of %d things are not as they should be", troubles, len(found))
		return 1
	}
	say(stdout, "all well")
	return 0
}

func examine(ctx context.Context, backups string) []doctor.Finding {
	c, err := readConfig(os.Getenv)
	if err != nil {
		return []doctor.Finding{{About: "settings", Says: err.Error(), Do: "Set the variable as docs/install.md says."}}
	}
	now := time.Now()
	all := []doctor.Finding{doctor.Door(c.listen, c.publicURL, c.https.way != "", len(c.proxies) > 0), doctor.Disk(c.data)}
	all = append(all, ofDatabase(ctx, c)...)
	all = append(all, ofKeys(c, now)...)
	if c.mail != nil {
		all = append(all, doctor.Reached(ctx, "mail server", c.mail.Host, c.mail.Port))
	}
	if backups != "" {
		all = append(all, doctor.Backups(backups, now))
	} else {
		all = append(all, doctor.Finding{About: "backups", Says: "not looked at; name their folder with --backups"})
	}
	return all
}

// ofDatabase asks the database that serves; it starts none.
func ofDatabase(ctx context.Context, c config) []doctor.Finding {
	silent := slog.New(slog.DiscardHandler)
	if c.privateSrv {
		running, err := privatepg.Running(c.data)
		if err != nil || running == "" {
			return []doctor.Finding{{
				About: "database", Says: "No program serves from " + c.data + ", so its database can't be asked.",
				Do: "Start Settlemark, or set SETTLEMARK_DATA or DATABASE_URL as it has them, and ask again.",
			}}
		}
		c.appURL = running
	}
	d, err := db.Open(ctx, c.appURL, silent)
	if err != nil {
		return []doctor.Finding{{About: "database", Says: "DATABASE_URL can't be read.", Do: "It looks like postgres://LOGIN@HOST:5432/settlemark."}}
	}
	defer d.Close()
	all := doctor.Database(ctx, d, time.Now)
	if c.replicaURL != "" {
		all = append(all, doctor.Replica(ctx, d, c.replicaURL, time.Now))
	}
	secrets, err := auth.ReadSecrets(auth.NewSecret()) // of no use here: nobody signs in
	if err != nil || d.Ping(ctx) != nil {
		return all
	}
	acts := act.New(d, silent, secrets)
	acts.Log = c.log
	return append(all, doctor.Sealing(ctx, acts, d, time.Now())...)
}

// ofKeys looks at the files of keys and at how long certificates are good.
func ofKeys(c config, now time.Time) []doctor.Finding {
	const restore = "Bring it back from its backup; see docs/identity.md for where there is none."
	all := doctor.Secret("secrets", secretsFile(c.data), restore)
	all = append(all, doctor.Secret("log key", c.log.Key, "")...) // another process may seal
	all = append(all, doctor.Secret("site key", c.siteKeyPath(), "Bring it back from its backup, or import another with settlemark keys import.")...)
	if keys, err := readSiteKeys(c.siteKeyPath()); err == nil && len(keys) > 0 {
		all = append(all, doctor.Ends("site key", keys[0].Certificate().NotAfter, now, soon, "Import another with settlemark keys import."))
	}
	switch c.https.way {
	case "files":
		all = append(all, doctor.Secret("https key", c.https.key, "Set SETTLEMARK_TLS_KEY to the key's file.")...)
		if files, err := trust.OpenFiles(c.https.cert, c.https.key, c.https.host, time.Now, slog.New(slog.DiscardHandler)); err != nil {
			all = append(all, doctor.Finding{About: "https", Says: err.Error(), Do: "Put a certificate and the key that belongs to it into SETTLEMARK_TLS_CERT and SETTLEMARK_TLS_KEY."})
		} else if shown, err := files.Show(nil); err == nil {
			all = append(all, doctor.Ends("https", shown.Leaf.NotAfter, now, 30*24*time.Hour, "Put a new certificate into the place of the old one."))
		}
	case "local":
		all = append(all, doctor.Secret("authority", c.authorityPath(), "Bring it back from its backup, or every device has to install another.")...)
		if authority, err := trust.ReadAuthority(c.authorityPath()); err == nil {
			all = append(all, doctor.Ends("authority", authority.Certificate.NotAfter, now, 365*24*time.Hour, "Plan another one: move the file away, start again, and install it on every device."))
		}
	}
	return all
}
