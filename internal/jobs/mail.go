package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/riverqueue/river"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/mail"
	"settlemark/internal/urls"
	"settlemark/internal/words"
)

// Mail is the mail server of the plant, nil when there is none.
type Mail struct {
	Server mail.Server
	Site   string // address of the site, for links; "" for none
}

// post tells one person of one notice, again and again until the server took it,
// refused it, or the notice is a day old.
type post struct {
	river.WorkerDefaults[act.MailJob]
	acts *act.Acts
	mail *Mail
	now  func() time.Time
	log  *slog.Logger
}

func (w *post) Work(ctx context.Context, job *river.Job[act.MailJob]) error {
	n := job.Args.Notice
	age := w.now().Sub(n.At)
	if w.mail == nil {
		return nil // the operator took the server away
	}
	if age > deadAfter {
		return river.JobCancel(fmt.Errorf("no e-mail went out within %s", deadAfter))
	}
	to, language, err := w.acts.MailTo(ctx, job.Args)
	if err != nil || to == "" {
		return err
	}
	l := w.mail.letter(n, words.Language(language))
	l.ID, l.To = fmt.Sprintf("notice-%d.%s", n.ID, job.Args.Person), to
	err = w.mail.Server.Send(ctx, l)
	if refused := (mail.RefusedError{}); errors.As(err, &refused) {
		w.log.WarnContext(ctx, "the mail server refuses an e-mail", "notice", n.ID, "person", job.Args.Person, "cause", err)
		return river.JobCancel(err)
	}
	if err != nil {
		w.log.WarnContext(ctx, "an e-mail was not sent", "notice", n.ID, "person", job.Args.Person, "cause", err)
		return river.JobSnooze(pause(age))
	}
	return nil
}

// letter says what happened at which unit, and no more: e-mails lie about.
func (m *Mail) letter(n commissioning.Notice, in words.Language) mail.Letter {
	said := words.Say("%s: %s", n.Unit, n.Event.Words())
	text := words.Say("%s.", said).In(in) + "\n\n"
	if m.Site != "" {
		text += m.Site + urls.Run(n.Run) + "\n\n"
	}
	text += words.Say("This is a hint to look, no safety function. You chose these e-mails under Account, Tell me.").In(in) + "\n"
	return mail.Letter{Subject: said.In(in), Text: text}
}

// Try sends an e-mail to see whether it arrives.
func (m *Mail) Try(ctx context.Context, id, to string, in words.Language) error {
	return m.Server.Send(ctx, mail.Letter{
		ID: id, To: to, Subject: words.Say("Settlemark tries this address").In(in),
		Text: words.Say("This e-mail was asked for under Account, Tell me. Nothing has happened.").In(in) + "\n",
	})
}
