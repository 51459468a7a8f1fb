package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const mailWish = `
select w.address, w.events, coalesce(nullif(p.language, ''), (select language from sites where id = @site), '') as language,
  p.disabled_at is null as works
from mail_wishes w join persons p on p.id = w.person_id
where w.person_id = @person`

// MailWish is how a person wants to be told by e-mail.
type MailWish struct {
	Address  string
	Events   []commissioning.Event
	Language string // that they read: theirs, or that of the site
	Works    bool   // false once they are disabled
}

// MailWish gives how a person wants to be told of what happens at a site;
// NotFound when they do not.
func (d *DB) MailWish(ctx context.Context, p commissioning.PersonID, site commissioning.SiteID) (_ MailWish, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "MailWish(%s)", p)
	return one[MailWish](ctx, d.pool, mailWish, args{"person": p, "site": site})
}

const setMailWish = `
insert into mail_wishes (person_id, address, events) values (@person, @address, @events)
on conflict (person_id) do update set address = excluded.address, events = excluded.events`

// SetMailWish keeps how a person wants to be told by e-mail.
func (t *Tx) SetMailWish(ctx context.Context, p commissioning.PersonID, w MailWish) error {
	return t.exec(ctx, setMailWish, args{"person": p, "address": w.Address, "events": w.Events})
}

const endMailWish = `delete from mail_wishes where person_id = @person`

// EndMailWish forgets a person's address.
func (t *Tx) EndMailWish(ctx context.Context, p commissioning.PersonID) error {
	return t.exec(ctx, endMailWish, args{"person": p})
}

const mailReaders = `
select w.person_id from notices n join mail_wishes w on w.person_id = any(n.people) and n.event = any(w.events)
where n.id = @notice order by w.person_id`

// MailReaders gives who of those whom a notice concerns is to be told of it by e-mail.
func (t *Tx) MailReaders(ctx context.Context, notice int64) (_ []commissioning.PersonID, err error) {
	defer problem.Wrap(&err, "MailReaders(%d)", notice)
	return column[commissioning.PersonID](ctx, t.tx, mailReaders, args{"notice": notice})
}
