package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"os"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/backup"
	"settlemark/internal/certificate"
	"settlemark/internal/durable"
)

const drillUsage = "usage: settlemark restore-drill (FILE [--key FILE] | --base FOLDER --wal FOLDER) --checkpoint FILE [--policy FILE] [--report FILE]" +
	" (a site publishes its newest checkpoint at /log/checkpoint; it must have been fetched before)"

// drilling is what the arguments of restore-drill ask for.
type drilling struct {
	file, key, base, wal, checkpoint, policy, report string
}

// restoreDrill restores a backup on a server of its own and compares it with a
// checkpoint that was kept elsewhere. The exit status is 0 when the restore is
// proven, 1 when not, 2 when the arguments make no sense.
func restoreDrill(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	asked, err := drillArguments(args)
	if err != nil {
		say(stderr, "%s", err)
		return 2
	}
	proven, err := asked.run(ctx, stdout, stderr)
	if err != nil {
		complain(stderr, err)
		return 1
	}
	if !proven {
		return 1
	}
	return 0
}

func drillArguments(args []string) (asked drilling, err error) {
	flags := flag.NewFlagSet("restore-drill", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&asked.key, "key", "", "the private key or the passphrase of this file opens the backup")
	flags.StringVar(&asked.base, "base", "", "base backup in plain form, with its manifest")
	flags.StringVar(&asked.wal, "wal", "", "folder that the server's log was archived to")
	flags.StringVar(&asked.checkpoint, "checkpoint", "", "the newest checkpoint that was kept elsewhere")
	flags.StringVar(&asked.policy, "policy", "", "whose logs to believe")
	flags.StringVar(&asked.report, "report", "", "write the report here, signed where the log's key is")
	files, err := filesAmong(flags, args)
	logical := len(files) == 1 && asked.base == "" && asked.wal == ""
	physical := len(files) == 0 && asked.base != "" && asked.wal != "" && asked.key == ""
	if err != nil || asked.checkpoint == "" || !logical && !physical {
		return asked, errors.New(drillUsage)
	}
	if logical {
		asked.file = files[0]
	}
	return asked, nil
}

func (asked drilling) run(ctx context.Context, stdout, stderr io.Writer) (proven bool, err error) {
	d := backup.Drill{Now: time.Now, Log: quietLog(stderr), Trust: certificate.Trust{Now: time.Now(), Passkey: act.CheckPasskey}}
	d.Base.Base, d.Base.WAL = asked.base, asked.wal
	if asked.file != "" {
		file, err := backupFile(asked.file, asked.key)
		if err != nil {
			return false, err
		}
		d.File = &file
	}
	if d.Checkpoint, err = os.ReadFile(asked.checkpoint); err != nil {
		return false, err
	}
	if d.Policy, err = outsidePolicy(asked.policy); err != nil {
		return false, err
	}
	r := d.Run(ctx)
	if _, err := io.WriteString(stdout, r.Text()); err != nil {
		return false, err
	}
	return r.Proven(), asked.keep(r, stdout)
}

// keep writes the report, as a signed note where this machine has the log's key.
func (asked drilling) keep(r backup.Report, stdout io.Writer) error {
	if asked.report == "" {
		return nil
	}
	c, err := readConfig(os.Getenv)
	if err != nil {
		return err
	}
	text, err := c.log.SignReport(r.Text())
	if err != nil {
		return err
	}
	how := "signed with the log's key"
	if text == nil {
		text, how = []byte(r.Text()), "not signed: the log's key is not on this machine"
	}
	if err := durable.Write(asked.report, text); err != nil {
		return err
	}
	say(stdout, "%-12s %s, %s", "report", asked.report, how)
	return nil
}
